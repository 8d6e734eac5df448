// Package links answers the links of messages: what their holder may do once,
// without logging in. It serves nothing else.
package links

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"recoat/internal/alert"
)

// Ledger remembers which links were used; an alert.Outbox is one.
type Ledger interface {
	// Spend fails with alert.ErrLinkSpent the second time.
	Spend(ctx context.Context, l alert.Link, now time.Time) error
	Spent(ctx context.Context, l alert.Link) (bool, error)
}

// Hands does what links ask for. Its errors are shown.
type Hands interface {
	// Describe names what a link would do, in a sentence without a full stop:
	// "Note that it is dry: Linen press, doors".
	Describe(ctx context.Context, l alert.Link) string
	Acknowledge(episode string) error
	Snooze(episode string, d time.Duration) error
	// Coat notes that another coat of the same product was put on a coat.
	Coat(ctx context.Context, coat string, at time.Time) error
	Touch(ctx context.Context, coat, found string, at time.Time) error
}

// Config is what a handler needs.
type Config struct {
	Signer *alert.Signer
	Ledger Ledger
	Hands  Hands
	// Host is how phones address this listener, "192.0.2.7:7424": a request by
	// any other name is refused.
	Host string
	Now  func() time.Time
	Log  *slog.Logger
}

// Path is what a token stands behind in an address.
const Path = "/l/"

// New returns the handler. A GET shows what would be done and a button, so that
// a program which looks at links before a person does uses none up; a POST does
// it.
func New(c Config) http.Handler {
	s := &server{Config: c, rate: newLimiter(c.Now)}
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+Path+"{token}", s.show)
	mux.HandleFunc("POST "+Path+"{token}", s.do)
	mux.HandleFunc("GET /links.css", style)
	mux.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) {
		s.say(w, http.StatusNotFound, view{Title: "Nothing is here", Text: "Only the links in recoat's messages are answered at this address."})
	})
	return s.guard(mux)
}

type server struct {
	Config
	rate *limiter
}

// guard sets the headers of every answer, and refuses other names and whoever
// asks too often.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		switch {
		case !strings.EqualFold(r.Host, s.Host):
			s.say(w, http.StatusMisdirectedRequest, view{Title: "Not this address", Text: "Open the link as it stands in the message."})
		case !s.rate.allow(remote(r)):
			w.Header().Set("Retry-After", "10")
			s.say(w, http.StatusTooManyRequests, view{Title: "Too many at once", Text: "Wait ten seconds, then open the link again."})
		default:
			next.ServeHTTP(w, r)
		}
	})
}

func remote(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// open returns the link of a request, or nil once it has said why not.
func (s *server) open(w http.ResponseWriter, r *http.Request) *alert.Link {
	l, err := s.Signer.Verify(r.PathValue("token"), s.Now())
	if err == nil {
		var spent bool
		if spent, err = s.Ledger.Spent(r.Context(), l); err == nil && spent {
			err = alert.ErrLinkSpent
		}
	}
	if err != nil {
		s.refuse(w, err)
		return nil
	}
	return &l
}

// refuse says why a link is not followed.
func (s *server) refuse(w http.ResponseWriter, err error) {
	for _, known := range []error{alert.ErrLinkAltered, alert.ErrLinkExpired, alert.ErrLinkSpent} {
		if errors.Is(err, known) {
			s.say(w, http.StatusForbidden, view{Title: "This link does nothing", Text: sentence(known.Error())})
			return
		}
	}
	s.Log.Error("follow a link", "error", err)
	s.say(w, http.StatusInternalServerError, view{Title: "That did not work", Text: "Nothing was changed. Try the page Alerts instead."})
}

func (s *server) show(w http.ResponseWriter, r *http.Request) {
	if l := s.open(w, r); l != nil {
		s.say(w, http.StatusOK, view{Title: s.Hands.Describe(r.Context(), *l), Text: "The link can be used once.", Ask: true})
	}
}

// do uses the link up before it does what the link asks for: twice would be
// worse than not at all.
func (s *server) do(w http.ResponseWriter, r *http.Request) {
	l := s.open(w, r)
	if l == nil {
		return
	}
	now := s.Now()
	if err := s.Ledger.Spend(r.Context(), *l, now); err != nil {
		s.refuse(w, err)
		return
	}
	what := s.Hands.Describe(r.Context(), *l)
	if err := s.follow(r.Context(), *l, now); err != nil {
		s.Log.Warn("a link could not be followed", "action", l.Action, "error", err)
		s.say(w, http.StatusConflict, view{Title: "That was not noted", Text: sentence(err.Error()) + " Use the pages of recoat instead."})
		return
	}
	s.say(w, http.StatusOK, view{Title: "Done", Text: sentence(what)})
}

func (s *server) follow(ctx context.Context, l alert.Link, now time.Time) error {
	switch l.Action {
	case alert.ActionSeen:
		return s.Hands.Acknowledge(l.Episode)
	case alert.ActionSnooze:
		d, err := time.ParseDuration(l.Subject)
		if err != nil {
			return fmt.Errorf("%q is no time span", l.Subject)
		}
		return s.Hands.Snooze(l.Episode, d)
	case alert.ActionCoat:
		return s.Hands.Coat(ctx, l.Subject, now)
	case alert.ActionTouch:
		coat, found, _ := strings.Cut(l.Subject, " ")
		return s.Hands.Touch(ctx, coat, found, now)
	}
	return fmt.Errorf("this recoat cannot do %q", l.Action)
}

//go:embed page.html links.css
var files embed.FS

var page = template.Must(template.ParseFS(files, "page.html"))

// view is one plain page.
type view struct {
	Title, Text string
	Ask         bool // with a button that does it
}

func (s *server) say(w http.ResponseWriter, status int, v view) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	if err := page.Execute(w, v); err != nil {
		s.Log.Debug("a page of a link was not read to its end", "error", err)
	}
}

func style(w http.ResponseWriter, r *http.Request) {
	http.ServeFileFS(w, r, files, "links.css")
}

func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}
