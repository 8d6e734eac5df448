package influx

import (
	"compress/gzip"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"recoat/sensors"
)

var dusk = time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)

func numbered(n int) sensors.Round {
	return sensors.Round{
		Node: "bench", Boot: "b1", Seq: uint64(n), Time: dusk.Add(time.Duration(n) * time.Second), ClockSet: true,
		Readings: []sensors.Reading{{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 20 + float64(n)}},
	}
}

// double plays a server that answers each write as scripted, then with success,
// and refuses for ever a request that holds the poison. It holds nothing.
type double struct {
	*httptest.Server
	mu     sync.Mutex
	script []int
	poison string
	lines  map[string]int // taken, by line
	writes int
}

func newDouble(t *testing.T) *double {
	d := &double{lines: map[string]int{}, poison: "never"}
	d.Server = httptest.NewServer(d)
	t.Cleanup(d.Close)
	return d
}

func (d *double) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !strings.HasSuffix(r.URL.Path, "/write") {
		return // a question: no rows
	}
	d.writes++
	if len(d.script) > 0 {
		status := d.script[0]
		d.script = d.script[1:]
		w.Header().Set("Retry-After", "1")
		w.WriteHeader(status)
		return
	}
	var body io.Reader = r.Body
	if r.Header.Get("Content-Encoding") == "gzip" {
		body, _ = gzip.NewReader(r.Body)
	}
	text, _ := io.ReadAll(body)
	if strings.Contains(string(text), d.poison) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusUnprocessableEntity)
		_, _ = io.WriteString(w, `{"code":"unprocessable entity","message":"points beyond retention policy"}`)
		return
	}
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		d.lines[line]++
	}
	w.WriteHeader(http.StatusNoContent)
}

func (d *double) open(t *testing.T) *Store {
	t.Helper()
	return openAt(t, Config{
		URL: d.URL, Token: "keeper:secret", Readings: "shop/readings", Rollups: "shop/rollups",
		Queue: filepath.Join(t.TempDir(), "queue.db"), Log: slog.New(slog.NewTextHandler(t.Output(), nil)),
	})
}

func (d *double) taken() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.lines)
}

// One line that the server refuses for ever is put aside with the reason, and
// stands in nobody's way.
func TestAPoisonLineIsSetAsideAndTheRestFlows(t *testing.T) {
	d := newDouble(t)
	d.poison = "1 37 0 1"
	s := d.open(t)
	var rounds []sensors.Round
	for n := 1; n <= 100; n++ {
		rounds = append(rounds, numbered(n))
	}
	if err := s.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	if err := s.drain(t.Context()); err != nil {
		t.Fatal(err)
	}
	st, err := s.Stats(t.Context())
	if err != nil || st.Waiting != 0 || st.Aside != 1 || d.taken() != 99 {
		t.Fatalf("%+v, %d lines taken, %v", st, d.taken(), err)
	}
	var reason string
	if err := s.queue.db.Read.QueryRow(`SELECT reason FROM aside WHERE data LIKE '1 37 %'`).Scan(&reason); err != nil || !strings.Contains(reason, "beyond retention") {
		t.Errorf("the reason kept: %q, %v", reason, err)
	}
}

// While the server is away, full, or does not admit us, everything waits, and
// nothing is set aside.
func TestRoundsOutlastAServerThatRefuses(t *testing.T) {
	d := newDouble(t)
	s := d.open(t)
	if err := s.Append(t.Context(), "attic", []sensors.Round{numbered(1), numbered(2)}); err != nil {
		t.Fatal(err)
	}
	for _, status := range []int{401, 403, 404, 429, 500, 503} {
		d.script = []int{status}
		if err := s.drain(t.Context()); err == nil {
			t.Errorf("%d counted as written", status)
		}
		if st, err := s.Stats(t.Context()); err != nil || st.Waiting != 2 || st.Aside != 0 {
			t.Fatalf("after %d: %+v, %v", status, st, err)
		}
	}
	d.CloseClientConnections()
	err := s.drain(t.Context())
	if err != nil { // on a connection that was just cut: Run would ask again, and so do we, once; all still waits
		if st, failed := s.Stats(t.Context()); failed != nil || st.Waiting != 2 || st.Aside != 0 {
			t.Fatalf("after a cut: %+v, %v", st, failed)
		}
		err = s.drain(t.Context())
	}
	if err != nil || d.taken() != 2 {
		t.Fatalf("%d lines taken, %v", d.taken(), err)
	}
}

// Run comes back by itself, and not before the server asks for it.
func TestRunTriesAgain(t *testing.T) {
	d := newDouble(t)
	d.script = []int{503, 429}
	s := d.open(t)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	began := time.Now()
	go func() { ended <- s.Run(ctx) }()
	if err := s.Append(t.Context(), "attic", []sensors.Round{numbered(1)}); err != nil {
		t.Fatal(err)
	}
	for d.taken() == 0 {
		if time.Since(began) > 20*time.Second {
			t.Fatal("nothing was written")
		}
		time.Sleep(10 * time.Millisecond)
	}
	if waited := time.Since(began); waited < 2*time.Second {
		t.Errorf("two refusals that ask for a second each, and written after %v", waited)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}
