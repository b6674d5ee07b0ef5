package pages

import (
	"sync"
	"time"
)

// Hub hands what is going on from the session to everybody who looks. It never makes the session wait: who is slow misses what is
// overtaken.
type Hub struct {
	mu      sync.Mutex
	last    *Glance
	since   time.Time // when it was published
	viewers map[chan struct{}]bool
}

// NewHub returns a hub to which nothing was published.
func NewHub() *Hub { return &Hub{viewers: map[chan struct{}]bool{}} }

// Publish makes a glance the current one. The caller does not change it afterwards.
func (h *Hub) Publish(g Glance) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.last, h.since = &g, time.Now()
	for wake := range h.viewers {
		select {
		case wake <- struct{}{}:
		default:
		}
	}
}

// Last is the current glance, nil before the first.
func (h *Hub) Last() *Glance {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last
}

// latest is the current glance and how old it is.
func (h *Hub) latest() (g *Glance, age time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last, time.Since(h.since)
}

// watch returns a channel that is sent to after each Publish, and the function that ends it.
func (h *Hub) watch() (wake <-chan struct{}, done func()) {
	c := make(chan struct{}, 1)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.viewers[c] = true
	return c, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.viewers, c)
	}
}
