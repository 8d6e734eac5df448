package webpush

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/sha256"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"recoat/internal/alert"
)

// service is a push service on the loopback.
type service struct {
	t        *testing.T
	server   *httptest.Server
	public   string // the key that browsers subscribed to
	mu       sync.Mutex
	browsers map[string]*browser // by path
	answer   map[string]int
	got      map[string][]post
}

type post struct {
	header http.Header
	body   map[string]any
}

func newService(t *testing.T, public string) *service {
	s := &service{t: t, public: public, browsers: map[string]*browser{}, answer: map[string]int{}, got: map[string][]post{}}
	s.server = httptest.NewTLSServer(s)
	t.Cleanup(s.server.Close)
	return s
}

// host is one the server's certificate is for.
const host = "example.com"

func (s *service) client(string) *http.Client {
	c := s.server.Client()
	transport := c.Transport.(*http.Transport).Clone()
	transport.DisableKeepAlives = true
	transport.TLSClientConfig = &tls.Config{RootCAs: transport.TLSClientConfig.RootCAs, MinVersion: tls.VersionTLS12}
	transport.DialContext = func(ctx context.Context, network, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, network, s.server.Listener.Addr().String())
	}
	return &http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func (s *service) add(t *testing.T, o *alert.Outbox, path string) {
	t.Helper()
	b := newBrowser(t)
	b.subscription.Endpoint = "https://" + host + path
	s.browsers[path] = b
	if err := o.Subscribe(t.Context(), b.subscription, time.Now()); err != nil {
		t.Fatal(err)
	}
}

func (s *service) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if code := s.answer[r.URL.Path]; code != 0 {
		w.Header().Set("Retry-After", "90")
		w.Header().Set("Location", "https://"+host+"/elsewhere")
		w.WriteHeader(code)
		return
	}
	if err := s.admits(r.Header.Get("Authorization")); err != nil {
		s.t.Error(err)
		w.WriteHeader(http.StatusForbidden)
		return
	}
	sealed, err := io.ReadAll(r.Body)
	if err != nil || len(sealed) > 4096 {
		s.t.Errorf("%d bytes, %v", len(sealed), err)
	}
	plain, err := s.browsers[r.URL.Path].open(sealed)
	p := post{header: r.Header.Clone()}
	if err != nil || json.Unmarshal(plain, &p.body) != nil {
		s.t.Errorf("cannot be read: %v %q", err, plain)
	}
	s.got[r.URL.Path] = append(s.got[r.URL.Path], p)
	w.WriteHeader(http.StatusCreated)
}

// admits holds the header to RFC 8292, sections 2 and 3.
func (s *service) admits(header string) error {
	var token, key string
	for part := range strings.SplitSeq(strings.TrimPrefix(header, "vapid "), ", ") {
		switch name, value, _ := strings.Cut(part, "="); name {
		case "t":
			token = value
		case "k":
			key = value
		}
	}
	if key != s.public {
		return fmt.Errorf("signed by %q", key)
	}
	signed, signature, _ := cutLast(token)
	raw := bytesOf(s.t, signature)
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), bytesOf(s.t, key))
	if err != nil {
		return err
	}
	digest := sha256.Sum256([]byte(signed))
	if len(raw) != 64 || !ecdsa.Verify(public, digest[:], new(big.Int).SetBytes(raw[:32]), new(big.Int).SetBytes(raw[32:])) {
		return errors.New("the signature is wrong")
	}
	head, claims, _ := strings.Cut(signed, ".")
	var h struct{ Typ, Alg string }
	var c struct {
		Aud, Sub string
		Exp      int64
	}
	if json.Unmarshal(bytesOf(s.t, head), &h) != nil || json.Unmarshal(bytesOf(s.t, claims), &c) != nil {
		return errors.New("no token")
	}
	left := time.Until(time.Unix(c.Exp, 0))
	if h.Typ != "JWT" || h.Alg != "ES256" || c.Aud != "https://"+host || c.Sub != "mailto:ada@example.net" || left <= 0 || left > 24*time.Hour {
		return fmt.Errorf("claims %+v %+v", h, c)
	}
	return nil
}

func cutLast(s string) (before, after string, ok bool) {
	i := strings.LastIndex(s, ".")
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}
