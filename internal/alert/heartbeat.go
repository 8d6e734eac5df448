package alert

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"sync"
	"time"
)

// Heartbeat asks an outside address, again and again, so that whoever watches
// that address notices when the hub is silent.
type Heartbeat struct {
	cfg    HeartbeatConfig
	redact redactor
	client *http.Client

	mu   sync.Mutex
	last Trial
}

// HeartbeatConfig is what a heartbeat needs.
type HeartbeatConfig struct {
	URL   string // https:// or http://; it may hold a secret
	Every time.Duration
	// Alive says what is wrong with the hub; while it does, no beat goes out.
	Alive func(ctx context.Context) error
	Now   func() time.Time
	Log   *slog.Logger
}

// ShortestBeat is how often a heartbeat may be at most.
const ShortestBeat = time.Minute

// NewHeartbeat checks the configuration.
func NewHeartbeat(c HeartbeatConfig) (*Heartbeat, error) {
	u, err := url.Parse(c.URL)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" {
		return nil, errors.New("heartbeat: not an address: want https://host/path")
	}
	if c.Every < ShortestBeat {
		return nil, fmt.Errorf("heartbeat: every %s is too often: %s at least", span(c.Every), span(ShortestBeat))
	}
	return &Heartbeat{cfg: c, redact: newRedactor(u, u.Host, u.Hostname()), client: NewHTTPClient(u.Hostname())}, nil
}

// Run beats until ctx ends, at once and then every so often. A beat that fails
// is logged, and what watches the address will say so.
func (h *Heartbeat) Run(ctx context.Context) error {
	for {
		if t := h.Beat(ctx); t.Failed != "" && ctx.Err() == nil {
			h.cfg.Log.Warn("no heartbeat went out", "error", t.Failed)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(h.cfg.Every):
		}
	}
}

// Beat asks the address once and says what came of it.
func (h *Heartbeat) Beat(ctx context.Context) Trial {
	began := h.cfg.Now()
	ctx, cancel := context.WithTimeout(ctx, sendDeadline)
	defer cancel()
	t := Trial{Channel: "heartbeat", At: began}
	if err := h.beat(ctx); err != nil {
		t.Failed = h.redact.text(err.Error())
	}
	t.Took = max(h.cfg.Now().Sub(began), 0)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.last = t
	return t
}

// Last is what came of the last beat; At is zero before the first.
func (h *Heartbeat) Last() Trial {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last
}

func (h *Heartbeat) beat(ctx context.Context) error {
	if err := h.cfg.Alive(ctx); err != nil {
		return fmt.Errorf("the hub is not well: %w", err)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, h.cfg.URL, http.NoBody)
	if err != nil {
		return fmt.Errorf("make the request: %w", err)
	}
	request.Header.Set("User-Agent", "recoat")
	response, err := h.client.Do(request)
	if err != nil {
		if outer, ok := errors.AsType[*url.Error](err); ok {
			err = outer.Err
		}
		return err
	}
	_ = response.Body.Close() // unread: the status has said all
	return AnswerError(response, h.cfg.Now())
}
