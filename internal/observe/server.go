package observe

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/pprof"
	"time"
)

// Server answers /metrics, /healthz, /readyz and /debug/pprof/.
type Server struct {
	Listener net.Listener
	Meter    *Meter
	// Ready returns why the hub is not ready; nil: it is.
	Ready func() error
}

// Listen takes an address of this machine, and no other.
func Listen(ctx context.Context, address string) (net.Listener, error) {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	if err != nil {
		return nil, err
	}
	if at, ok := l.Addr().(*net.TCPAddr); !ok || !at.IP.IsLoopback() {
		_ = l.Close()
		return nil, fmt.Errorf("%s can be reached from outside: measurements and profiles are for this machine alone, such as 127.0.0.1:7424", address)
	}
	return l, nil
}

const (
	headerTimeout = 5 * time.Second
	answerTimeout = 2 * time.Minute // a profile takes half a minute by itself
)

// Run serves until ctx ends, and returns nil.
func (s Server) Run(ctx context.Context) error {
	server := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: headerTimeout, WriteTimeout: answerTimeout, BaseContext: func(net.Listener) context.Context { return ctx }}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(s.Listener) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
		_ = server.Close()
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			return err
		}
		return nil
	}
}

// Handler answers without a listener, for tests.
func (s Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/openmetrics-text; version=1.0.0; charset=utf-8")
		_ = s.Meter.Write(r.Context(), w) // whoever asked is gone
	})
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { _, _ = fmt.Fprintln(w, "ok") })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, _ *http.Request) {
		if err := s.Ready(); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
		_, _ = fmt.Fprintln(w, "ready")
	})
	mux.HandleFunc("GET /debug/pprof/", pprof.Index)
	mux.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	return onlyHere(mux)
}

// onlyHere refuses names that a stranger's page could have pointed at this
// machine.
func onlyHere(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		host := r.Host
		if h, _, err := net.SplitHostPort(host); err == nil {
			host = h
		}
		if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
			http.Error(w, "ask by 127.0.0.1, [::1] or localhost", http.StatusMisdirectedRequest)
			return
		}
		next.ServeHTTP(w, r)
	})
}
