package speech

import "sync/atomic"

// ring carries values from one goroutine to another through a fixed store,
// without a lock or an allocation. One side writes, the other reads.
type ring[T any] struct {
	store   []T
	written atomic.Uint64 // values ever written; the writer's
	taken   atomic.Uint64 // values ever read; the reader's
}

// newRing returns a ring that holds size values.
func newRing[T any](size int) *ring[T] { return &ring[T]{store: make([]T, size)} }

// len is the number of values waiting. To the reader it is a lower bound, to
// the writer an upper one.
func (r *ring[T]) len() int { return int(r.written.Load() - r.taken.Load()) }

// room is the number of values that can be written.
func (r *ring[T]) room() int { return len(r.store) - r.len() }

// write copies as much of in as there is room for and returns how much.
func (r *ring[T]) write(in []T) int {
	n := min(len(in), r.room())
	at := r.written.Load()
	a, b := r.stretches(at, n)
	copy(b, in[copy(a, in):n])
	r.written.Store(at + uint64(n))
	return n
}

// read copies as much into out as is waiting and returns how much.
func (r *ring[T]) read(out []T) int {
	n := min(len(out), r.len())
	at := r.taken.Load()
	a, b := r.stretches(at, n)
	copy(out[copy(out, a):], b)
	r.taken.Store(at + uint64(n))
	return n
}

// skip drops up to n waiting values.
func (r *ring[T]) skip(n int) {
	r.taken.Add(uint64(max(0, min(n, r.len()))))
}

// stretches returns the n values from position at, which lie in one or two
// pieces.
func (r *ring[T]) stretches(at uint64, n int) (a, b []T) {
	start := int(at % uint64(len(r.store)))
	first := min(n, len(r.store)-start)
	return r.store[start : start+first], r.store[:n-first]
}
