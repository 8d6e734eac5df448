package webpush

import (
	"bytes"
	"context"
	"crypto/ecdh"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"recoat/internal/alert"
)

const (
	// timeToLive is how long a push service keeps a message for a phone that is
	// off. The payload holds the time of the event.
	timeToLive = 12 * time.Hour
	// mostUnfinished is how many messages are remembered that only some of the
	// phones have.
	mostUnfinished = 50
)

// Book keeps the subscriptions; an alert.Outbox is one.
type Book interface {
	Subscriptions(ctx context.Context) ([]alert.PushSubscription, error)
	Unsubscribe(ctx context.Context, endpoint string) error
}

// Config is what a Channel needs.
type Config struct {
	Book     Book
	Identity *Identity
	Now      func() time.Time
	Client   func(host string) *http.Client // nil: alert.NewHTTPClient
}

// Channel posts a message to the push service of every browser subscribed. It
// is sent once every one of them has taken it; a try after a failure leaves
// out those that have.
type Channel struct {
	cfg Config

	mu    sync.Mutex
	taken map[string]map[string]bool // by message, by endpoint
}

// New makes the channel.
func New(cfg Config) *Channel {
	if cfg.Client == nil {
		cfg.Client = alert.NewHTTPClient
	}
	return &Channel{cfg: cfg, taken: map[string]map[string]bool{}}
}

// Name is "push".
func (*Channel) Name() string { return "push" }

// Send posts m to every browser. One whose subscription has ended is forgotten;
// where none is left the error is alert.ErrGone.
func (c *Channel) Send(ctx context.Context, m alert.Message) error {
	all, err := c.cfg.Book.Subscriptions(ctx)
	if err != nil {
		return fmt.Errorf("push: %w", err)
	}
	payload, err := payloadOf(m)
	if err != nil {
		return fmt.Errorf("push: %w", err)
	}
	var failures []error
	reached := 0
	for _, s := range all {
		if c.has(m.ID, s.Endpoint) {
			reached++
			continue
		}
		switch err := c.post(ctx, m, payload, s); {
		case err == nil:
			c.note(m.ID, s.Endpoint)
			reached++
		case errors.Is(err, alert.ErrGone):
			if err := c.cfg.Book.Unsubscribe(ctx, s.Endpoint); err != nil {
				failures = append(failures, err)
			}
		default:
			failures = append(failures, err)
		}
	}
	switch {
	case len(failures) > 0:
		return fmt.Errorf("push to %d of %d browsers: %w", len(failures), len(all), errors.Join(failures...))
	case reached == 0:
		return fmt.Errorf("push: no browser is subscribed: %w", alert.ErrGone)
	}
	c.forget(m.ID)
	return nil
}

// payloadOf is the message as JSON; a body too long for one record is cut.
func payloadOf(m alert.Message) ([]byte, error) {
	for {
		payload, err := m.Encode()
		body := []rune(m.Body)
		if err != nil || len(payload) <= maxPlain || len(body) == 0 {
			return payload, err
		}
		m.Body = string(body[:len(body)*3/4]) + "…"
	}
}

func (c *Channel) post(ctx context.Context, m alert.Message, payload []byte, s alert.PushSubscription) error {
	endpoint, err := url.Parse(s.Endpoint)
	if err != nil {
		return errors.New("the address kept is none")
	}
	request, err := c.request(ctx, m, payload, s, endpoint)
	if err != nil {
		return err
	}
	response, err := c.cfg.Client(endpoint.Hostname()).Do(request)
	if ctx.Err() != nil {
		return alert.ErrOutcomeUnknown
	}
	if err != nil {
		if outer, ok := errors.AsType[*url.Error](err); ok {
			err = outer.Err
		}
		return errors.New(alert.Redact(err.Error(), endpoint.EscapedPath(), endpoint.RawQuery))
	}
	_ = response.Body.Close() // unread: the status has said all
	return judge(response, c.cfg.Now())
}

func judge(response *http.Response, now time.Time) error {
	err := alert.AnswerError(response, now)
	switch response.StatusCode {
	case http.StatusNotFound, http.StatusGone:
		return fmt.Errorf("%w: %w", err, alert.ErrGone)
	case http.StatusUnauthorized, http.StatusForbidden:
		return fmt.Errorf("%w: check the hub's clock, and that its push key is the one subscribed to", err)
	}
	return err
}

func (c *Channel) request(ctx context.Context, m alert.Message, payload []byte, s alert.PushSubscription, endpoint *url.URL) (*http.Request, error) {
	sender, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make a key: %w", err)
	}
	salt := make([]byte, saltSize)
	if _, err := rand.Read(salt); err != nil {
		return nil, fmt.Errorf("make a salt: %w", err)
	}
	body, err := seal(payload, s, sender, salt)
	if err != nil {
		return nil, err
	}
	who, err := c.cfg.Identity.authorise(endpoint, c.cfg.Now())
	if err != nil {
		return nil, err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, s.Endpoint, bytes.NewReader(body))
	if err != nil {
		return nil, errors.New("the address kept is none")
	}
	request.Header.Set("Authorization", who)
	request.Header.Set("Content-Encoding", "aes128gcm")
	request.Header.Set("Content-Type", "application/octet-stream")
	request.Header.Set("TTL", strconv.FormatInt(int64(timeToLive/time.Second), 10))
	request.Header.Set("Topic", topic(m))
	request.Header.Set("Urgency", urgency(m.Severity))
	return request, nil
}

// topic lets a message replace an undelivered one of the same episode (RFC
// 8030, section 5.4: at most 32 characters of base64url).
func topic(m alert.Message) string {
	sum := sha256.Sum256([]byte(m.Episode))
	return encode(sum[:24])
}

// urgency follows RFC 8030, section 5.3.
func urgency(s alert.Severity) string {
	if s >= alert.Warning {
		return "high"
	}
	return "normal"
}

func (c *Channel) has(message, endpoint string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.taken[message][endpoint]
}

func (c *Channel) note(message, endpoint string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.taken[message] == nil {
		if len(c.taken) >= mostUnfinished {
			clear(c.taken) // at worst somebody is told twice
		}
		c.taken[message] = map[string]bool{}
	}
	c.taken[message][endpoint] = true
}

func (c *Channel) forget(message string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.taken, message)
}
