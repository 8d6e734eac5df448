package telemetry

import (
	"io"
	"net"
	"sync"
	"testing"
)

// relay is an address that stays the same while the broker behind it is
// stopped and another one started: nobody else can take the port meanwhile.
type relay struct {
	listener net.Listener
	mu       sync.Mutex
	network  string
	backend  string // empty: there is none, and who connects is cut off
}

func startRelay(t *testing.T) *relay {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &relay{listener: listener}
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			wg.Go(func() { r.carry(conn) })
		}
	})
	t.Cleanup(func() { _ = listener.Close(); wg.Wait() })
	return r
}

func (r *relay) addr() string { return r.listener.Addr().String() }

func (r *relay) lead(network, backend string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.network, r.backend = network, backend
}

func (r *relay) carry(front net.Conn) {
	defer func() { _ = front.Close() }()
	r.mu.Lock()
	network, backend := r.network, r.backend
	r.mu.Unlock()
	if backend == "" {
		return
	}
	back, err := net.Dial(network, backend)
	if err != nil {
		return
	}
	defer func() { _ = back.Close() }()
	done := make(chan struct{}, 2)
	pipe := func(to, from net.Conn) { _, _ = io.Copy(to, from); done <- struct{}{} }
	go pipe(back, front)
	go pipe(front, back)
	<-done
}
