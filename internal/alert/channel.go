package alert

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"strings"
)

// ErrOutcomeUnknown says that a try ended without an answer: the message may
// have arrived.
var ErrOutcomeUnknown = errors.New("no answer in time, the message may have arrived")

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
