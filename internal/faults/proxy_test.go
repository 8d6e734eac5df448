package faults

import (
	"io"
	"net"
	"sync"
	"testing"
)

// proxy is a network between two sides that can be cut, and half-opened: then
// connections stand, new ones too, and nothing passes.
type proxy struct {
	listener net.Listener

	mu      sync.Mutex
	backend string
	mute    bool
	down    bool
	conns   map[net.Conn]struct{}
	passing *sync.Cond
}

func newProxy(t *testing.T) *proxy {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{listener: l, conns: map[net.Conn]struct{}{}}
	p.passing = sync.NewCond(&p.mu)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go p.carry(c)
		}
	}()
	t.Cleanup(func() {
		_ = l.Close()
		p.set(func() { p.down, p.mute = true, false })
		p.cut()
	})
	return p
}

func (p *proxy) url() string { return "tcp://" + p.listener.Addr().String() }

func (p *proxy) set(change func()) {
	p.mu.Lock()
	change()
	p.passing.Broadcast()
	p.mu.Unlock()
}

// cut ends every connection.
func (p *proxy) cut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.conns {
		_ = c.Close()
	}
}

func (p *proxy) carry(front net.Conn) {
	defer func() { _ = front.Close() }()
	p.mu.Lock()
	backend, down := p.backend, p.down
	p.mu.Unlock()
	if down || backend == "" {
		return
	}
	back, err := net.Dial("tcp", backend)
	if err != nil {
		return
	}
	defer func() { _ = back.Close() }()
	p.set(func() { p.conns[front], p.conns[back] = struct{}{}, struct{}{} })
	defer p.set(func() { delete(p.conns, front); delete(p.conns, back) })
	done := make(chan struct{}, 2)
	pipe := func(to, from net.Conn) {
		_, _ = io.Copy(gated{to, p}, from)
		done <- struct{}{}
	}
	go pipe(back, front)
	go pipe(front, back)
	<-done
}

// gated waits while nothing passes.
type gated struct {
	net.Conn
	p *proxy
}

func (g gated) Write(b []byte) (int, error) {
	g.p.mu.Lock()
	for g.p.mute {
		g.p.passing.Wait()
	}
	g.p.mu.Unlock()
	return g.Conn.Write(b)
}
