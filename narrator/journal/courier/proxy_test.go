package courier_test

import (
	"context"
	"io"
	"math/rand/v2"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// proxy is a bad network between bays and a server.
type proxy struct {
	listener net.Listener
	to       func() (net.Conn, error)
	seed     atomic.Uint64

	mu    sync.Mutex
	links map[*link]bool

	cut     atomic.Bool  // nobody gets through
	delay   atomic.Int64 // nanoseconds, of every piece in either way
	deaf    atomic.Bool  // answers are swallowed
	limit   atomic.Int64 // bytes after which a connection breaks, 0 for never
	ghosts  atomic.Bool  // the server does not notice that a connection broke, for a while
	passed  atomic.Int64 // connections
	breaks  atomic.Int64 // of connections
	haunted sync.WaitGroup
}

// link is one connection through the proxy.
type link struct{ bay, server net.Conn }

// newProxy listens on loopback and passes everything on.
func newProxy(t testing.TB, to func() (net.Conn, error)) *proxy {
	t.Helper()
	return newProxyAt(t, "127.0.0.1", to)
}

// newProxyAt listens at an address of this machine.
func newProxyAt(t testing.TB, address string, to func() (net.Conn, error)) *proxy {
	t.Helper()
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", net.JoinHostPort(address, "0"))
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: listener, to: to, links: map[*link]bool{}}
	go p.serve()
	t.Cleanup(func() { listener.Close(); p.breakAll(); p.haunted.Wait() })
	return p
}

// dialer reaches a Unix socket.
func dialer(socket string) func() (net.Conn, error) {
	return func() (net.Conn, error) { return (&net.Dialer{}).DialContext(context.Background(), "unix", socket) }
}

func (p *proxy) serve() {
	for {
		bay, err := p.listener.Accept()
		if err != nil {
			return
		}
		if p.cut.Load() {
			bay.Close()
			continue
		}
		server, err := p.to()
		if err != nil {
			bay.Close()
			continue
		}
		p.passed.Add(1)
		l := &link{bay, server}
		p.mu.Lock()
		p.links[l] = true
		p.mu.Unlock()
		left := new(atomic.Int64)
		left.Store(p.limit.Load())
		limited := left.Load() > 0
		go p.pump(l, server, bay, false, left, limited)
		go p.pump(l, bay, server, true, left, limited)
	}
}

// pump carries bytes one way until something breaks.
func (p *proxy) pump(l *link, to, from net.Conn, answers bool, left *atomic.Int64, limited bool) {
	buffer := make([]byte, 8<<10)
	random := rand.New(rand.NewPCG(p.seed.Add(1), 7))
	for {
		n, err := from.Read(buffer)
		if d := p.delay.Load(); d > 0 && n > 0 {
			time.Sleep(time.Duration(random.Int64N(d) + 1)) // the network is slow: that is what this makes
		}
		if n > 0 && (!answers || !p.deaf.Load()) {
			if limited && left.Add(-int64(n)) <= 0 {
				n = random.IntN(n + 1) // a piece is torn
				err = io.ErrUnexpectedEOF
			}
			if _, wrote := to.Write(buffer[:n]); wrote != nil {
				err = wrote
			}
		}
		if err != nil {
			p.drop(l)
			return
		}
	}
}

// drop breaks a connection.
func (p *proxy) drop(l *link) {
	p.mu.Lock()
	there := p.links[l]
	delete(p.links, l)
	p.mu.Unlock()
	if !there {
		return
	}
	p.breaks.Add(1)
	l.bay.Close()
	if !p.ghosts.Load() {
		l.server.Close()
		return
	}
	p.haunted.Add(1)
	time.AfterFunc(200*time.Millisecond, func() { l.server.Close(); p.haunted.Done() })
}

// breakAll breaks every connection.
func (p *proxy) breakAll() {
	p.mu.Lock()
	var all []*link
	for l := range p.links {
		all = append(all, l)
	}
	p.mu.Unlock()
	for _, l := range all {
		p.drop(l)
	}
}

// heal ends all faults of the network.
func (p *proxy) heal() {
	p.cut.Store(false)
	p.deaf.Store(false)
	p.ghosts.Store(false)
	p.delay.Store(0)
	p.limit.Store(0)
}
