package main

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
)

// posted is what recoat sends to a plain HTTP address.
type posted struct {
	Title    string `json:"title"`
	Body     string `json:"body"`
	Severity string `json:"severity"`
	Room     string `json:"room"`
	Episode  string `json:"episode"`
	Cause    string `json:"cause"`
	key      string // of the Idempotency-Key header
}

// sink is a real HTTP server on loopback that stands for the phone's service.
type sink struct {
	*httptest.Server
	arrived  chan posted
	asked    chan struct{} // a request has begun
	answered chan struct{} // close it to let requests be answered
}

// newSink returns a sink; one that is mute takes connections and says nothing
// until answered is closed.
func newSink(t *testing.T, mute bool) *sink {
	s := &sink{arrived: make(chan posted, 64), asked: make(chan struct{}, 64), answered: make(chan struct{})}
	if !mute {
		close(s.answered)
	}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var p posted
		if err := json.NewDecoder(r.Body).Decode(&p); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		_, _ = io.Copy(io.Discard, r.Body) // until then the server does not notice that the caller has gone
		select {
		case s.asked <- struct{}{}:
		default:
		}
		select {
		case <-s.answered:
		case <-r.Context().Done():
			return
		}
		p.key = r.Header.Get("Idempotency-Key")
		s.arrived <- p
	}))
	t.Cleanup(s.Close)
	return s
}
