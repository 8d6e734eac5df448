package alert

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
)

// delivery is one post as a sink took it.
type delivery struct {
	path   string
	header http.Header
	body   map[string]any
}

// sink is a real HTTP server on the loopback that keeps what it is sent, and
// answers as the test says.
type sink struct {
	*httptest.Server
	mu  sync.Mutex
	got []delivery
}

// newSink starts a sink; answer is called after a post was kept and may be nil.
func newSink(t *testing.T, answer http.HandlerFunc) *sink {
	t.Helper()
	s := &sink{}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		raw, err := io.ReadAll(r.Body)
		d := delivery{path: r.URL.Path, header: r.Header.Clone()}
		if err == nil && json.Unmarshal(raw, &d.body) != nil {
			d.body = map[string]any{"text": string(raw)}
		}
		s.mu.Lock()
		s.got = append(s.got, d)
		s.mu.Unlock()
		if answer != nil {
			answer(w, r)
		}
	}))
	t.Cleanup(s.Close)
	return s
}

func (s *sink) deliveries() []delivery {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]delivery(nil), s.got...)
}
