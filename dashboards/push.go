package dashboards

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"time"
)

// Push is Web Push to browsers.
type Push interface {
	PublicKey() string // for applicationServerKey, in unpadded base64url
	// Subscribe takes a browser's PushSubscription as JSON. An error is shown.
	Subscribe(ctx context.Context, subscription []byte, at time.Time) error
	Unsubscribe(ctx context.Context, endpoint string) error
}

const maxSubscription = 4 << 10 // bytes

func (s *server) pushRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /push/key", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		_, _ = io.WriteString(w, s.push.PublicKey()) // the asker may be gone
	})
	mux.HandleFunc("POST /push", s.subscribe)
	mux.HandleFunc("POST /push/stop", s.unsubscribe)
	// It looks after no page: its own part of the site keeps it apart from the
	// worker that does.
	mux.HandleFunc("GET /push-worker.js", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFileFS(w, r, assetFiles, "assets/push-worker.js")
	})
}

func (s *server) subscribe(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxSubscription))
	if err == nil {
		err = s.push.Subscribe(r.Context(), body, s.now())
	}
	if err != nil {
		http.Error(w, sentence(err.Error()), http.StatusBadRequest)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func (s *server) unsubscribe(w http.ResponseWriter, r *http.Request) {
	var given struct {
		Endpoint string `json:"endpoint"`
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxSubscription)).Decode(&given); err != nil || given.Endpoint == "" {
		http.Error(w, "Want the endpoint of a subscription.", http.StatusBadRequest)
		return
	}
	if err := s.push.Unsubscribe(r.Context(), given.Endpoint); err != nil {
		s.log.Error("forget a subscription", "err", err)
		http.Error(w, "It could not be forgotten. The log says why.", http.StatusInternalServerError)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}
