package mail

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"math/big"
	"mime"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"recoat/internal/alert"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const password = "tr0ub4dor-and-3"

var sample = alert.Message{
	ID: "0123456789abcdef", Severity: alert.Critical,
	Title: "Zu kühl: Linen press, doors. Warm it.", Body: "Surface 9.0 °C; at least 10.0 °C is needed.\n.\nNo flame.",
}

// server is a real mail server on the loopback that keeps what it takes.
type server struct {
	mu      sync.Mutex
	letters []letter
	refuse  error // of every letter
	host    string
	port    uint16
	roots   *x509.CertPool
}

type letter struct {
	from string
	to   []string
	text string
}

func (s *server) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{server: s}, nil }

type session struct {
	server *server
	known  bool
	letter letter
}

func (*session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, pass string) error {
		if user != "ada" || pass != password {
			return errors.New("wrong " + pass)
		}
		s.known = true
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if !s.known {
		return smtp.ErrAuthRequired
	}
	s.letter.from = from
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.letter.to = append(s.letter.to, to)
	return nil
}

func (s *session) Data(r io.Reader) error {
	text, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.server.mu.Lock()
	defer s.server.mu.Unlock()
	if s.server.refuse != nil {
		return s.server.refuse
	}
	s.letter.text = string(text)
	s.server.letters = append(s.server.letters, s.letter)
	return nil
}

func (s *session) Reset()      { s.letter = letter{} }
func (*session) Logout() error { return nil }

// serve starts a server; without encryption it offers no STARTTLS.
func serve(t *testing.T, encryption bool) *server {
	t.Helper()
	certificate, roots := certify(t)
	s := &server{roots: roots}
	real := smtp.NewServer(s)
	real.Domain, real.AllowInsecureAuth, real.ErrorLog = "localhost", !encryption, quiet{}
	if encryption {
		real.TLSConfig = &tls.Config{Certificates: []tls.Certificate{certificate}, MinVersion: tls.VersionTLS12}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := l.Addr().(*net.TCPAddr)
	s.host, s.port = "127.0.0.1", uint16(at.Port)
	ended := make(chan error, 1)
	go func() { ended <- real.Serve(l) }()
	t.Cleanup(func() {
		real.Close()
		<-ended
	})
	return s
}

// quiet drops what the server says of connections that end early.
type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

// certify makes a certificate for the loopback and the pool that trusts it.
func certify(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	plan := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "loopback"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, plan, plan, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, roots
}

func (s *server) config() Config {
	return Config{Host: s.host, Port: s.port, User: "ada", Password: password,
		From: "Hub <hub@example.net>", To: []string{"ada@example.net", "bea@example.net"}, Roots: s.roots}
}

func newChannel(t *testing.T, cfg Config) *Channel {
	t.Helper()
	c, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestAMailArrives(t *testing.T) {
	s := serve(t, true)
	if err := newChannel(t, s.config()).Send(t.Context(), sample); err != nil {
		t.Fatal(err)
	}
	if len(s.letters) != 1 {
		t.Fatalf("%d letters", len(s.letters))
	}
	got := s.letters[0]
	if diff := cmp.Diff([]string{"ada@example.net", "bea@example.net"}, got.to); diff != "" || got.from != "hub@example.net" {
		t.Errorf("from %s: %s", got.from, diff)
	}
	// The standard library's reader is another than the sender's.
	read, err := mail.ReadMessage(strings.NewReader(got.text))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(read.Header.Get("Subject"))
	if err != nil || subject != sample.Title {
		t.Errorf("subject %q, %v", subject, err)
	}
	if id := read.Header.Get("Message-ID"); id != "<0123456789abcdef@recoat.invalid>" {
		t.Errorf("id %q", id)
	}
	if read.Header.Get("Importance") != "high" || read.Header.Get("Auto-Submitted") != "auto-generated" {
		t.Errorf("%v", read.Header)
	}
	if date, err := read.Header.Date(); err != nil || time.Since(date) > time.Hour {
		t.Errorf("date %v, %v", date, err)
	}
	if body := textOf(t, read); body != sample.Title+"\n\n"+sample.Body+"\n" {
		t.Errorf("body %q", body)
	}
}

func TestATitleCannotAddHeaders(t *testing.T) {
	s := serve(t, true)
	m := sample
	m.Title = "Ready\r\nBcc: eve@example.org\r\n\r\nno body"
	if err := newChannel(t, s.config()).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	read, err := mail.ReadMessage(strings.NewReader(s.letters[0].text))
	if err != nil || read.Header.Get("Bcc") != "" || len(s.letters[0].to) != 2 {
		t.Errorf("%v %v", read.Header, err)
	}
}

func TestWhatTheServerDoesNotTakeIsNotSent(t *testing.T) {
	trusted, plain := serve(t, true), serve(t, false)
	full := serve(t, true)
	full.refuse = &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "mailbox full of " + password}
	for name, c := range map[string]struct {
		server *server
		spoil  func(*Config)
		want   string
	}{
		"no encryption":       {plain, func(*Config) {}, "STARTTLS"},
		"an unknown server":   {trusted, func(c *Config) { c.Roots = x509.NewCertPool() }, "certificate"},
		"another server":      {trusted, func(c *Config) { c.Host = "localhost" }, "certificate"},
		"a wrong password":    {trusted, func(c *Config) { c.Password = "wrong-secret" }, "AUTH failed"},
		"no login":            {trusted, func(c *Config) { c.User = "" }, "502"},
		"the mailbox is full": {full, func(*Config) {}, "mailbox full of …"},
	} {
		t.Run(name, func(t *testing.T) {
			cfg := c.server.config()
			c.spoil(&cfg)
			err := newChannel(t, cfg).Send(t.Context(), sample)
			if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), password) || strings.Contains(err.Error(), "wrong-secret") {
				t.Errorf("got %v, want %q and no secret", err, c.want)
			}
			if n := len(c.server.letters); n != 0 {
				t.Errorf("%d letters", n)
			}
		})
	}
}

func TestAServerThatSaysNothingEndsWithTheContext(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	cfg := (&server{host: "127.0.0.1", port: uint16(l.Addr().(*net.TCPAddr).Port)}).config()
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	begun := time.Now()
	if err := newChannel(t, cfg).Send(ctx, sample); !errors.Is(err, alert.ErrOutcomeUnknown) || time.Since(begun) > 5*time.Second {
		t.Errorf("after %v: %v", time.Since(begun), err)
	}
}

func TestConfigurationsThatAreRefused(t *testing.T) {
	good := Config{Host: "mail.example.net", User: "ada", Password: password, From: "hub@example.net", To: []string{"ada@example.net"}}
	if c := newChannel(t, good); c.Server() != "mail.example.net:587" || c.Name() != "mail" {
		t.Errorf("%s at %s", c.Name(), c.Server())
	}
	for _, c := range []struct {
		want  string
		spoil func(*Config)
	}{
		{"no server", func(c *Config) { c.Host = "" }},
		{"no receiver", func(c *Config) { c.To = nil }},
		{"no password", func(c *Config) { c.Password = "" }},
		{"the sender", func(c *Config) { c.From = "hub" }},
		{"the receivers", func(c *Config) { c.To = []string{"ada@example.net", "nobody"} }},
	} {
		cfg := good
		c.spoil(&cfg)
		if _, err := New(cfg); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}
