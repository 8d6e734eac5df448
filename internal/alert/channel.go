package alert

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// ErrOutcomeUnknown says that a try ended without an answer: the message may
// have arrived.
var ErrOutcomeUnknown = errors.New("no answer in time, the message may have arrived")

// ErrGone says that nobody is behind a channel any more and no other try helps.
var ErrGone = errors.New("nobody receives this any more")

// longestBusy is how far ahead a busy channel may put the next try.
const longestBusy = 6 * time.Hour

// BusyError says that a channel asks to be left alone for a while.
type BusyError struct {
	After time.Duration // 0: it did not say for how long
	Why   string        // without secrets
}

// Error says why and for how long.
func (e *BusyError) Error() string {
	if e.After <= 0 {
		return e.Why
	}
	return fmt.Sprintf("%s, and asks to wait %s", e.Why, span(e.After))
}

// AnswerError returns nil for an HTTP answer that took a message over, and else
// says what the answer was. It reads the head of the answer alone.
func AnswerError(r *http.Response, now time.Time) error {
	switch code := r.StatusCode; {
	case code >= 200 && code < 300:
		return nil
	case code >= 300 && code < 400:
		return fmt.Errorf("answered %d, a redirect: configure the address it leads to", code)
	case code == http.StatusTooManyRequests || code == http.StatusServiceUnavailable:
		return &BusyError{After: retryAfter(r.Header, now), Why: fmt.Sprintf("answered %d %s", code, http.StatusText(code))}
	default:
		return fmt.Errorf("answered %d %s", code, http.StatusText(code))
	}
}

// retryAfter reads Retry-After in both its forms (RFC 9110, section 10.2.3). A
// date is held against the answer's own, so that no two clocks are compared,
// and against now only where the answer has none.
func retryAfter(h http.Header, now time.Time) time.Duration {
	value := strings.TrimSpace(h.Get("Retry-After"))
	if s, err := strconv.ParseUint(value, 10, 31); err == nil {
		return time.Duration(s) * time.Second
	}
	at, err := http.ParseTime(value)
	if err != nil {
		return 0
	}
	if sent, err := http.ParseTime(h.Get("Date")); err == nil {
		now = sent
	}
	return max(at.Sub(now), 0)
}

// ParseChannels makes a channel of each address and gives each a name of its
// own. No error holds any part of an address beyond its scheme.
func ParseChannels(addresses []string) ([]Channel, error) {
	channels := make([]Channel, 0, len(addresses))
	count := map[string]int{}
	for i, a := range addresses {
		u, err := parseAddress(a)
		if err != nil {
			return nil, fmt.Errorf("channel %d: %w", i+1, err)
		}
		name := channelName(u)
		if count[name]++; count[name] > 1 {
			name = fmt.Sprintf("%s (%d)", name, count[name])
		}
		c, err := newChannel(name, u)
		if err != nil {
			return nil, fmt.Errorf("channel %d: %w", i+1, err)
		}
		channels = append(channels, c)
	}
	return channels, nil
}

// ParseChannel makes a channel of an address: http:// and https:// post our own
// JSON, any other scheme is the notification library's.
func ParseChannel(address string) (Channel, error) {
	u, err := parseAddress(address)
	if err != nil {
		return nil, err
	}
	return newChannel(channelName(u), u)
}

func parseAddress(address string) (*url.URL, error) {
	u, err := url.Parse(strings.TrimSpace(address))
	if err != nil || u.Scheme == "" {
		// The parser's error repeats the address, so it is not passed on.
		return nil, errors.New("not an address: want a scheme first, such as https://host/path or smtp://…")
	}
	return u, nil
}

// channelName is fit to be shown: the host we post to, or the library's scheme
// alone, since its hosts may be secrets.
func channelName(u *url.URL) string {
	if u.Scheme == "http" || u.Scheme == "https" {
		return u.Host
	}
	return u.Scheme
}

func newChannel(name string, u *url.URL) (Channel, error) {
	switch u.Scheme {
	case "http", "https":
		return newHTTPPost(name, u)
	case "generic":
		return nil, errors.New("generic: write the address as https://… instead: it is then posted to without following redirects")
	case "logger":
		return nil, errors.New("logger: reaches nobody; leave the channel out")
	}
	for key := range u.Query() {
		switch strings.ToLower(key) {
		case "disabletlsverification", "insecureskipverify", "skiptlsverify":
			return nil, fmt.Errorf("%s: %s is refused, anyone could answer in the server's place: install its certificate instead", u.Scheme, strings.ToLower(key))
		}
	}
	return newShoutrrr(name, u)
}

// LogChannel stands in where no channel is configured: messages go to the log
// and reach no phone.
type LogChannel struct{ log *slog.Logger }

// NewLogChannel writes messages to log.
func NewLogChannel(log *slog.Logger) *LogChannel { return &LogChannel{log: log} }

// Name is "log".
func (*LogChannel) Name() string { return "log" }

// Send never fails.
func (l *LogChannel) Send(ctx context.Context, m Message) error {
	l.log.WarnContext(ctx, m.Title, "body", m.Body, "severity", m.Severity, "cause", m.Cause, "room", m.Key.Room, "episode", m.Episode)
	return nil
}
