package dashboards

import (
	"bytes"
	"context"
	"errors"
	"html/template"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"

	"recoat/internal/access"
)

// Gate says who may come in. Where the pages have one, nobody sees anything but
// the log-in page without a session.
type Gate interface {
	Visitor(ctx context.Context, secret string) (access.Visitor, bool)
	// LogIn and Claim return the secret of a new session. Their errors of the
	// kinds access.ErrRefused, *access.WaitError and *access.InputError are shown.
	LogIn(ctx context.Context, origin, name, password string) (secret string, err error)
	Claim(ctx context.Context, origin, code, name, password string) (secret string, err error)
	Claimed(ctx context.Context) (bool, error)
	LogOut(ctx context.Context, secret string, everywhere bool) error
}

// gate stands before the pages.
type gate struct {
	Gate
	next      http.Handler
	log       *slog.Logger
	templates *template.Template
	authority []byte // certificate that signed ours, in PEM; nil: none of our own
}

func newGate(o Options, a *assets, next http.Handler, log *slog.Logger) *gate {
	return &gate{
		Gate: o.Gate, next: next, log: log, authority: o.Authority,
		templates: template.Must(template.New("").Funcs(template.FuncMap{"asset": a.address}).ParseFS(templateFiles, "templates/gate/*.html")),
	}
}

func (g *gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	switch at := r.Method + " " + r.URL.Path; {
	case at == "GET /login":
		g.ask(w, r, http.StatusOK, "")
	case at == "POST /login":
		g.logIn(w, r)
	case at == "POST /claim":
		g.claim(w, r)
	case at == "POST /logout":
		g.logOut(w, r)
	case at == "GET /authority.crt" && g.authority != nil:
		w.Header().Set("Content-Type", "application/x-x509-ca-cert")
		_, _ = w.Write(g.authority) // the asker may be gone; nothing is left to do
	case r.Method == http.MethodGet && strings.HasPrefix(r.URL.Path, "/assets/"):
		g.next.ServeHTTP(w, r) // what the log-in page looks like
	default:
		g.admit(w, r)
	}
}

// admit passes on what the visitor may ask for.
func (g *gate) admit(w http.ResponseWriter, r *http.Request) {
	visitor, known := g.Visitor(r.Context(), secretOf(r))
	reads := r.Method == http.MethodGet || r.Method == http.MethodHead
	switch {
	case !known && reads && wantsPage(r):
		http.Redirect(w, r, "/login?next="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
	case !known:
		http.Error(w, "Log in first.", http.StatusUnauthorized)
	case !may(visitor.Role, reads, r.URL.Path):
		http.Error(w, "This account may not do that: ask the owner.", http.StatusForbidden)
	default:
		g.next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visitorKey{}, visitor)))
	}
}

func wantsPage(r *http.Request) bool { return strings.Contains(r.Header.Get("Accept"), "text/html") }

type visitorKey struct{}

// visitorOf returns who asks; the zero visitor where the pages have no gate.
func visitorOf(r *http.Request) access.Visitor {
	v, _ := r.Context().Value(visitorKey{}).(access.Visitor)
	return v
}

// The session's cookie. Browsers let a name with that prefix be set by this
// very host over TLS alone (RFC 6265bis, section 4.1.3).
const (
	cookieName       = "recoat-session"
	secureCookieName = "__Host-recoat-session"
	cookieLife       = 180 * 24 * 3600 // s; the session ends before by itself
)

func nameOfCookie(r *http.Request) string {
	if r.TLS != nil {
		return secureCookieName
	}
	return cookieName
}

func secretOf(r *http.Request) string {
	c, err := r.Cookie(nameOfCookie(r))
	if err != nil {
		return ""
	}
	return c.Value
}

func setCookie(w http.ResponseWriter, r *http.Request, secret string) {
	c := &http.Cookie{
		Name: nameOfCookie(r), Value: secret, Path: "/", MaxAge: cookieLife,
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteLaxMode,
	}
	if secret == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

// origin is the address that a request came from, without the port.
func origin(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

func (g *gate) logIn(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	secret, err := g.LogIn(r.Context(), origin(r), r.FormValue("name"), r.FormValue("password"))
	g.enter(w, r, secret, err)
}

func (g *gate) claim(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	secret, err := g.Claim(r.Context(), origin(r), r.FormValue("code"), r.FormValue("name"), r.FormValue("password"))
	if errors.Is(err, access.ErrRefused) {
		g.ask(w, r, http.StatusForbidden, "That code is not the one on the terminal, or it is more than an hour old: start recoat again for another.")
		return
	}
	g.enter(w, r, secret, err)
}

// enter ends a log-in that went well at the page first asked for, and says what
// is wrong with any other.
func (g *gate) enter(w http.ResponseWriter, r *http.Request, secret string, err error) {
	var wait *access.WaitError
	var input *access.InputError
	switch {
	case err == nil:
		setCookie(w, r, secret)
		http.Redirect(w, r, local(r.FormValue("next")), http.StatusSeeOther)
	case errors.As(err, &wait):
		w.Header().Set("Retry-After", "60")
		g.ask(w, r, http.StatusTooManyRequests, upper(wait.Error())+".")
	case errors.As(err, &input):
		g.ask(w, r, http.StatusUnprocessableEntity, upper(input.Error())+".")
	case errors.Is(err, access.ErrRefused):
		g.ask(w, r, http.StatusForbidden, upper(access.ErrRefused.Error())+".")
	default:
		g.log.Error("log in", "err", err)
		g.ask(w, r, http.StatusInternalServerError, "That did not work. The log says why.")
	}
}

// upper begins a sentence.
func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// local keeps an address within these pages: anything else leads to Tonight.
func local(next string) string {
	u, err := url.Parse(next)
	if err != nil || !strings.HasPrefix(next, "/") || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(next, `\`) {
		return "/"
	}
	return u.RequestURI()
}

func (g *gate) logOut(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := g.LogOut(r.Context(), secretOf(r), r.FormValue("everywhere") != ""); err != nil {
		g.log.Error("log out", "err", err)
	}
	setCookie(w, r, "")
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// asking is what the log-in page shows.
type asking struct {
	Unclaimed bool
	Trouble   string
	Next      string
	Name      string
	Authority bool
}

func (g *gate) ask(w http.ResponseWriter, r *http.Request, status int, trouble string) {
	claimed, err := g.Claimed(r.Context())
	if err != nil {
		g.log.Error("ask for a log-in", "err", err)
		http.Error(w, "The accounts cannot be read. The log says why.", http.StatusInternalServerError)
		return
	}
	a := asking{Unclaimed: !claimed, Trouble: trouble, Next: local(r.FormValue("next")), Name: r.PostFormValue("name"), Authority: g.authority != nil}
	var body bytes.Buffer
	if err := g.templates.ExecuteTemplate(&body, "login.html", a); err != nil {
		g.log.Error("render page", "page", "login", "err", err)
		http.Error(w, "This page could not be made. The log says why.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(body.Bytes()) // the asker may be gone; nothing is left to do
}
