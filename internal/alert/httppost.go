package alert

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"syscall"
	"time"
)

// HTTPPost posts a message as JSON. Any 2xx answer means taken; its body is not
// read, redirects are not followed.
type HTTPPost struct {
	name   string
	url    string
	redact redactor
	client *http.Client
}

// posted is the body of a post. Its keys are a format: they are only added to.
type posted struct {
	ID        string    `json:"id"` // the same in every try, also the header Idempotency-Key
	Title     string    `json:"title"`
	Body      string    `json:"body"`
	Severity  Severity  `json:"severity"`
	Cause     Cause     `json:"cause"`
	Room      string    `json:"room"`
	EventTime time.Time `json:"event_time"`
	Episode   string    `json:"episode"`
	Key       string    `json:"key"`
	Replies   []Reply   `json:"replies,omitempty"`
}

// Encode returns the message as the JSON that is posted.
func (m Message) Encode() ([]byte, error) {
	body, err := json.Marshal(posted{
		ID: m.ID, Title: m.Title, Body: m.Body, Severity: m.Severity, Cause: m.Cause,
		Room: m.Key.Room, EventTime: m.At, Episode: m.Episode, Key: m.Key.String(), Replies: m.Replies,
	})
	if err != nil {
		return nil, fmt.Errorf("encode the message: %w", err)
	}
	return body, nil
}

func newHTTPPost(name string, u *url.URL) (*HTTPPost, error) {
	if u.Hostname() == "" {
		return nil, fmt.Errorf("%s: the address names no host", u.Scheme)
	}
	return &HTTPPost{
		name:   name,
		url:    u.String(),
		redact: newRedactor(u, u.Host, u.Hostname()),
		client: NewHTTPClient(u.Hostname()),
	}, nil
}

// NewHTTPClient posts to one host: it follows no redirect, and dials no address
// that no phone is behind, wherever the host's name leads.
func NewHTTPClient(host string) *http.Client {
	dialer := &net.Dialer{Control: func(_, address string, _ syscall.RawConn) error { return mayDial(host, address) }}
	return &http.Client{
		Transport: &http.Transport{
			DialContext:            dialer.DialContext,
			DisableKeepAlives:      true, // messages are rare
			MaxResponseHeaderBytes: 64 << 10,
		},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// Name is the host posted to.
func (h *HTTPPost) Name() string { return h.name }

// Send posts m once.
func (h *HTTPPost) Send(ctx context.Context, m Message) error {
	body, err := m.Encode()
	if err != nil {
		return err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, h.url, bytes.NewReader(body))
	if err != nil {
		return errors.New("make the request: " + h.redact.text(err.Error()))
	}
	request.Header.Set("Content-Type", "application/json; charset=utf-8")
	request.Header.Set("Idempotency-Key", m.ID)
	request.Header.Set("User-Agent", "recoat")
	response, err := h.client.Do(request)
	if err != nil {
		return h.explain(ctx, err)
	}
	_ = response.Body.Close() // unread: the status has said all
	return AnswerError(response, time.Now())
}

func (h *HTTPPost) explain(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ErrOutcomeUnknown
	}
	// The client wraps its error in one that repeats the address.
	if outer, ok := errors.AsType[*url.Error](err); ok {
		err = outer.Err
	}
	return errors.New("post: " + h.redact.text(err.Error()))
}

// mayDial refuses addresses that no phone is behind: link-local ones (where
// cloud machines keep their secrets), multicast and none; and this machine
// itself, unless it was asked for by that name.
func mayDial(host, address string) error {
	at, err := netip.ParseAddrPort(address)
	if err != nil {
		return fmt.Errorf("dial: %w", err)
	}
	ip := at.Addr().Unmap()
	named, err := netip.ParseAddr(host)
	asked := host == "localhost" || err == nil && named.Unmap().IsLoopback()
	switch {
	case ip.IsUnspecified(), ip.IsMulticast(), ip.IsLinkLocalUnicast():
		return fmt.Errorf("%s is an address that is never posted to", ip)
	case ip.IsLoopback() && !asked:
		return fmt.Errorf("%s is this machine: write localhost if that is meant", ip)
	}
	return nil
}
