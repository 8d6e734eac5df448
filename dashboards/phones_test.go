package dashboards

import (
	"bufio"
	"compress/gzip"
	"context"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"recoat/internal/room"
)

// The home page with all that it loads, packed, is at most so many bytes.
const mostBytes = 120_000

var loaded = regexp.MustCompile(`(?:src|href)="(/(?:assets/[^"]+|manifest\.webmanifest))"`)

func TestHomeIsLight(t *testing.T) {
	h := New(Options{House: newHouse(plannedRoom(t)), Book: filledBook(t), Location: shopZone, Now: func() time.Time { return evening }})
	weigh := func(target string) (int, string) {
		r := httptest.NewRequest(http.MethodGet, target, nil)
		r.Host = "localhost"
		r.Header.Set("Accept-Encoding", "gzip")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		bytes := w.Body.Len()
		if w.Header().Get("Content-Encoding") != "gzip" {
			return bytes, w.Body.String()
		}
		z, err := gzip.NewReader(w.Body)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(z)
		if err != nil {
			t.Fatal(err)
		}
		return bytes, string(text)
	}
	sum, page := weigh("/")
	parts := loaded.FindAllStringSubmatch(page, -1)
	if len(parts) < 4 {
		t.Fatalf("the page loads %v: the check is broken", parts)
	}
	for _, p := range parts {
		n, _ := weigh(p[1])
		t.Logf("%6d bytes %s", n, p[1])
		sum += n
	}
	t.Logf("%6d bytes in all", sum)
	if sum > mostBytes {
		t.Errorf("the home page weighs %d bytes, more than %d", sum, mostBytes)
	}
}

// A phone that reads nothing holds nobody up: not another phone, nor whoever
// changes the house.
func TestASlowPhoneDelaysNobody(t *testing.T) {
	house := newHouse(plannedRoom(t))
	server := httptest.NewServer(New(Options{House: house, Book: filledBook(t), Location: shopZone, Now: func() time.Time { return evening }}))
	t.Cleanup(server.Close)
	for range 20 {
		stuck(t, server, "GET /events HTTP/1.1\r\nHost: localhost\r\n\r\n")
		stuck(t, server, "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
	}
	phone := openPhone(t, server)
	for i := range 5 {
		state := dampRoom(evening)
		state.At = evening.Add(time.Duration(i) * time.Second)
		state.Surfaces[0].Surface += 0.1
		state.Air.ReadAt = state.At
		house.Set(state)
		phone.waitsFor(t, "event: changed")
		if _, err := phone.home(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
}

// stuck asks for something and never reads the answer.
func stuck(t testing.TB, server *httptest.Server, ask string) {
	t.Helper()
	c, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	if tcp, ok := c.(*net.TCPConn); ok {
		if err := tcp.SetReadBuffer(4096); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := io.WriteString(c, ask); err != nil {
		t.Fatal(err)
	}
}

// phone has Tonight open: a stream of events, and the page again at each change.
type phone struct {
	address string
	client  *http.Client
	lines   *bufio.Scanner
}

func openPhone(t testing.TB, server *httptest.Server) *phone {
	t.Helper()
	p := &phone{address: server.URL, client: &http.Client{Transport: &http.Transport{}}}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+"/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := p.client.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = answer.Body.Close(); p.client.CloseIdleConnections() })
	p.lines = bufio.NewScanner(answer.Body)
	p.waitsFor(t, "event: changed") // the state on opening
	return p
}

func (p *phone) waitsFor(t testing.TB, line string) {
	t.Helper()
	for p.lines.Scan() {
		if strings.HasPrefix(p.lines.Text(), line) {
			return
		}
	}
	t.Fatalf("the stream ended before %q: %v", line, p.lines.Err())
}

// home fetches the page and returns how long that took.
func (p *phone) home(ctx context.Context) (time.Duration, error) {
	start := time.Now()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, p.address+"/", nil)
	if err != nil {
		return 0, err
	}
	answer, err := p.client.Do(request)
	if err != nil {
		return 0, err
	}
	_, err = io.Copy(io.Discard, answer.Body)
	_ = answer.Body.Close()
	return time.Since(start), err
}

// BenchmarkFiftyPhones changes the house time after time under fifty phones,
// each of which then fetches the page.
func BenchmarkFiftyPhones(b *testing.B) {
	const phones = 50
	states := []room.Snapshot{plannedRoom(b), dampRoom(evening)}
	house := newHouse(states[0])
	pages := New(Options{House: house, Book: filledBook(b), Location: shopZone, Now: func() time.Time { return evening }})
	var mu sync.Mutex
	var served, took []time.Duration // within the server, and as a phone finds it
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		pages.ServeHTTP(w, r)
		if r.URL.Path != "/" {
			return
		}
		mu.Lock()
		defer mu.Unlock()
		served = append(served, time.Since(start))
	}))
	b.Cleanup(server.Close)
	before := inUse()
	all := make([]*phone, phones)
	for i := range all {
		all[i] = openPhone(b, server)
	}
	rounds := 0
	for b.Loop() {
		rounds++
		house.Set(states[rounds%2])
		var wait sync.WaitGroup
		for _, p := range all {
			wait.Go(func() {
				p.waitsFor(b, "event: changed")
				d, err := p.home(b.Context())
				if err != nil {
					b.Error(err)
				}
				mu.Lock()
				defer mu.Unlock()
				took = append(took, d)
			})
		}
		wait.Wait()
	}
	for name, all := range map[string][]time.Duration{"server": served, "phone": took} {
		slices.Sort(all)
		b.ReportMetric(float64(all[len(all)*99/100].Microseconds())/1000, name+"-p99-ms")
		b.ReportMetric(float64(all[len(all)/2].Microseconds())/1000, name+"-p50-ms")
	}
	b.ReportMetric(float64(inUse()-before)/1e6, "MB-growth")
}

// inUse is the heap after a collection, phones and server together.
func inUse() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapInuse)
}

// BenchmarkHome is one rendering of the page, as the server does it.
func BenchmarkHome(b *testing.B) {
	h := New(Options{House: newHouse(plannedRoom(b)), Book: filledBook(b), Location: shopZone, Now: func() time.Time { return evening }})
	for b.Loop() {
		if w := get(h, "/"); w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}
