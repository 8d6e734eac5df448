package dashboards

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/room"
)

// pipes is a listener whose connections are unbuffered pipes, so that a page
// which does not read stops its server at once.
type pipes struct {
	conns chan net.Conn
	done  chan struct{}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.done:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	close(p.done)
	return nil
}

func (p *pipes) Addr() net.Addr { return &net.UnixAddr{Name: "pipes"} }

// readTimeout is how long the tests' server waits for a request to be said. A
// stream outlives it.
const readTimeout = 5 * time.Second

// streaming starts a server over pipes for one test.
func streaming(t *testing.T, house *fakeHouse) *pipes {
	t.Helper()
	p := &pipes{conns: make(chan net.Conn), done: make(chan struct{})}
	server := &http.Server{Handler: New(Options{House: house, Location: shopZone}), ReadTimeout: readTimeout}
	stopped := make(chan error)
	go func() { stopped <- server.Serve(p) }()
	t.Cleanup(func() {
		if err := server.Close(); err != nil {
			t.Error(err)
		}
		if err := <-stopped; !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	})
	return p
}

// page opens an event stream as a browser does. It reads nothing.
func (p *pipes) page(t *testing.T, lastEvent string) net.Conn {
	t.Helper()
	ours, theirs := net.Pipe()
	p.conns <- theirs
	ask := "GET /events HTTP/1.1\r\nHost: localhost\r\nLast-Event-ID: " + lastEvent + "\r\n\r\n"
	if _, err := io.WriteString(ours, ask); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = ours.Close() })
	return ours
}

// listen reads a stream's lines until it ends.
func listen(c net.Conn) <-chan string {
	lines := make(chan string, 1000)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(c); s.Scan(); {
			lines <- s.Text()
		}
	}()
	return lines
}

// heard waits until all is quiet and returns what came.
func heard(lines <-chan string) string {
	synctest.Wait()
	var all []string
	for {
		select {
		case l, open := <-lines:
			if open {
				all = append(all, l)
				continue
			}
		default:
		}
		return strings.Join(all, "\n")
	}
}

func TestEventsTellOfEveryChangeOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		house := newHouse(backRoom(evening))
		first := version(house.Snapshots())
		lines := listen(streaming(t, house).page(t, ""))
		if got := heard(lines); !strings.Contains(got, "Content-Type: text/event-stream") || !strings.Contains(got, "id: "+first) {
			t.Errorf("on opening: %s", got)
		}
		damp, coats := []room.Snapshot{dampRoom(evening)}, []room.Snapshot{twoCoats(evening)}
		house.SetEach(damp, coats, damp)
		got := heard(lines)
		time.Sleep(2 * time.Second)
		got += heard(lines)
		if n := strings.Count(got, "event: changed"); n != 1 || !strings.Contains(got, "data: "+version(house.Snapshots())) {
			t.Errorf("after three changes to one end: %d events in %s", n, got)
		}
		time.Sleep(31 * time.Second)
		if got := heard(lines); strings.Count(got, "event: beat") != 2 || strings.Contains(got, "changed") {
			t.Errorf("in half a minute without change: %s", got)
		}
	})
}

func TestEventsResume(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		house := newHouse(backRoom(evening))
		p := streaming(t, house)
		current := listen(p.page(t, version(house.Snapshots())))
		stale := listen(p.page(t, "0000000000000000"))
		if got := heard(current); !strings.Contains(got, "retry:") || strings.Contains(got, "event: changed") {
			t.Errorf("a page that is up to date hears %s", got)
		}
		if got := heard(stale); !strings.Contains(got, "event: changed") {
			t.Errorf("a page that missed something hears %s", got)
		}
	})
}

func TestSlowPageIsDroppedAndHoldsUpNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		house := newHouse(backRoom(evening))
		p := streaming(t, house)
		p.page(t, "") // never reads
		quick := listen(p.page(t, ""))
		heard(quick)
		if n := house.watching(); n != 2 {
			t.Fatalf("%d pages watch, want 2", n)
		}
		house.Set(dampRoom(evening))
		if got := heard(quick); !strings.Contains(got, "event: changed") {
			t.Errorf("beside a slow page the quick one hears %q", got)
		}
		time.Sleep(slowClient + time.Second)
		synctest.Wait()
		if n := house.watching(); n != 1 {
			t.Errorf("%d pages watch after the slow one had its time, want 1", n)
		}
	})
}

func TestStreamsAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := streaming(t, newHouse(backRoom(evening)))
		for range maxStreams {
			heard(listen(p.page(t, "")))
		}
		if got := heard(listen(p.page(t, ""))); !strings.Contains(got, "503") {
			t.Errorf("one page too many hears %s", got)
		}
	})
}

// closedHouse is a House that stops telling.
type closedHouse struct{ *fakeHouse }

func (closedHouse) Watch(context.Context) <-chan struct{} {
	c := make(chan struct{})
	close(c)
	return c
}

func TestEventsEndWithTheHouse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ours, theirs := net.Pipe()
		p := &pipes{conns: make(chan net.Conn), done: make(chan struct{})}
		server := &http.Server{Handler: New(Options{House: closedHouse{newHouse()}})}
		go server.Serve(p)
		defer server.Close()
		p.conns <- theirs
		if _, err := io.WriteString(ours, "GET /events HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		if _, err := io.ReadAll(ours); err != nil {
			t.Errorf("the stream does not end: %v", err)
		}
	})
}

func TestVersionFollowsWhatIsShown(t *testing.T) {
	a, b := twoCoats(evening), twoCoats(evening)
	if version([]room.Snapshot{a}) != version([]room.Snapshot{b}) {
		t.Error("equal rooms have different versions")
	}
	b.Coats[1].Pace = 0.81
	if version([]room.Snapshot{a}) == version([]room.Snapshot{b}) {
		t.Error("a changed pace leaves the version as it was")
	}
}
