package dashboards

import (
	"context"
	"crypto/tls"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"recoat/internal/access"
)

// fakeGate lets in by the secrets it holds, and answers every log-in alike.
type fakeGate struct {
	sessions map[string]access.Visitor
	err      error
	claimed  bool
	origin   string // of the last log-in
	ended    string
}

func (g *fakeGate) Visitor(_ context.Context, secret string) (access.Visitor, bool) {
	v, ok := g.sessions[secret]
	return v, ok
}

func (g *fakeGate) LogIn(_ context.Context, origin, _, _ string) (string, error) {
	g.origin = origin
	return "fresh", g.err
}

func (g *fakeGate) Claim(ctx context.Context, origin, _, name, password string) (string, error) {
	return g.LogIn(ctx, origin, name, password)
}
func (g *fakeGate) Claimed(context.Context) (bool, error) { return g.claimed, nil }
func (g *fakeGate) LogOut(_ context.Context, secret string, everywhere bool) error {
	g.ended = secret
	if everywhere {
		g.ended += " everywhere"
	}
	return nil
}

func gated(t *testing.T, g *fakeGate) http.Handler {
	return New(Options{
		House: newHouse(twoCoats(evening)), History: fakeHistory{}, Book: bookOf(openBook(t)), Location: shopZone,
		Now: func() time.Time { return evening }, Gate: g,
	})
}

func threeRoles() *fakeGate {
	return &fakeGate{claimed: true, sessions: map[string]access.Visitor{
		"o": {Name: "mona", Role: access.Owner}, "h": {Name: "ida", Role: access.Helper}, "w": {Name: "screen", Role: access.Wall},
		"x": {Name: "odd", Role: "odd"},
	}}
}

// visit asks as a page of our own does, with a session's secret.
func visit(h http.Handler, method, target, secret string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, strings.NewReader(form.Encode()))
	r.Host = "localhost:8080"
	r.Header.Set("Accept", "text/html")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if secret != "" {
		r.AddCookie(&http.Cookie{Name: cookieName, Value: secret})
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestWithoutASessionThereIsOnlyTheLogIn(t *testing.T) {
	h := gated(t, threeRoles())
	for _, path := range []string{"/", "/room/back-room", "/events", "/api/rooms", "/nowhere", "/login/../", "/assets"} {
		w := visit(h, "GET", path, "", nil)
		if w.Code != http.StatusSeeOther || !strings.HasPrefix(w.Header().Get("Location"), "/login?next=") {
			t.Errorf("GET %s: %d to %q", path, w.Code, w.Header().Get("Location"))
		}
	}
	for _, method := range []string{"POST", "PUT", "DELETE", "OPTIONS"} {
		if w := visit(h, method, "/coats", "", nil); w.Code != http.StatusUnauthorized {
			t.Errorf("%s: %d", method, w.Code)
		}
	}
	if w := visit(h, "GET", "/", "unknown", nil); w.Code != http.StatusSeeOther {
		t.Errorf("an unknown session: %d", w.Code)
	}
	style := regexp.MustCompile(`/assets/[^"]*\.css`).FindString(visit(h, "GET", "/login", "", nil).Body.String())
	if w := visit(h, "GET", style, "", nil); w.Code != http.StatusOK || style == "" {
		t.Errorf("the log-in page goes without its style %q: %d", style, w.Code)
	}
}

func TestWhatRolesMay(t *testing.T) {
	h := gated(t, threeRoles())
	for _, c := range []struct {
		secret, method, path string
		want                 int
	}{
		{"o", "GET", "/", 200}, {"o", "POST", "/nowhere", 405},
		{"h", "GET", "/", 200}, {"h", "GET", "/nowhere", 404}, {"h", "POST", "/nowhere", 403}, {"h", "POST", "/people", 403},
		{"h", "POST", "/coats/../people", 403}, {"h", "POST", "//people", 403}, {"h", "DELETE", "/products/1", 403},
		{"w", "GET", "/", 200}, {"w", "GET", "/room/back-room", 200}, {"w", "POST", "/coats", 403}, {"w", "GET", "/nowhere", 403},
		{"w", "GET", "/room/../account", 403}, {"w", "GET", "/pieces", 403},
		{"x", "GET", "/", 403},
	} {
		if w := visit(h, c.method, c.path, c.secret, nil); w.Code != c.want {
			t.Errorf("%s: %s %s gives %d, want %d", c.secret, c.method, c.path, w.Code, c.want)
		}
	}
}

// A session's cookie is kept from scripts and other sites, and over TLS from
// anything that is not TLS.
func TestTheSessionsCookie(t *testing.T) {
	g := threeRoles()
	h := gated(t, g)
	w := visit(h, "POST", "/login", "", url.Values{"name": {"mona"}, "password": {"p"}, "next": {"/room/back-room?span=day"}})
	c := w.Result().Cookies()[0]
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/room/back-room?span=day" || g.origin != "192.0.2.1" {
		t.Errorf("%d to %q, from %q", w.Code, w.Header().Get("Location"), g.origin)
	}
	if c.Name != cookieName || c.Value != "fresh" || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Secure {
		t.Errorf("%+v", c)
	}
	r := httptest.NewRequest("POST", "/login", nil)
	r.Host, r.TLS = "localhost:8080", &tls.ConnectionState{}
	answer := httptest.NewRecorder()
	h.ServeHTTP(answer, r)
	if c := answer.Result().Cookies()[0]; !c.Secure || c.Name != secureCookieName || c.Domain != "" || c.Path != "/" {
		t.Errorf("over TLS %+v", c)
	}
	w = visit(h, "POST", "/logout", "h", url.Values{"everywhere": {"yes"}})
	if c := w.Result().Cookies()[0]; c.MaxAge >= 0 || g.ended != "h everywhere" {
		t.Errorf("%+v, ended %q", c, g.ended)
	}
}

func TestALogInLeadsNowhereElse(t *testing.T) {
	for next, want := range map[string]string{
		"": "/", "/shelf": "/shelf", "/?noted=coat": "/?noted=coat",
		"https://evil.example/": "/", "//evil.example/": "/", `/\evil.example`: "/", "javascript:alert(1)": "/", "shelf": "/", "/%2f/evil.example": "/", "\x00": "/",
	} {
		if got := local(next); got != want {
			t.Errorf("%q leads to %q, want %q", next, got, want)
		}
	}
}

func TestATroubledLogInSaysWhatIsWrong(t *testing.T) {
	g := threeRoles()
	h := gated(t, g)
	for _, c := range []struct {
		err  error
		want int
		says string
	}{
		{access.ErrRefused, 403, "That name and password do not go together."},
		{&access.WaitError{Wait: 90 * time.Second}, 429, "Too many tries: try again in 1m30s."},
		{&access.InputError{What: "the name", Problem: "is missing"}, 422, "The name is missing."},
		{errors.New("disk on fire"), 500, "The log says why."},
	} {
		g.err = c.err
		w := visit(h, "POST", "/login", "", url.Values{"name": {`"><b>mona`}})
		if w.Code != c.want || !strings.Contains(prose(w), c.says) || strings.Contains(w.Body.String(), "<b>mona") || len(w.Result().Cookies()) > 0 {
			t.Errorf("%v: %d %s", c.err, w.Code, prose(w))
		}
	}
	g.claimed = false
	if w := visit(h, "GET", "/login", "", nil); !strings.Contains(prose(w), "Make this shop yours") {
		t.Errorf("unclaimed: %s", prose(w))
	}
}

// A page from elsewhere can log nobody in or out, and change nothing.
func TestOtherSitesCannotUseASession(t *testing.T) {
	h := gated(t, threeRoles())
	for _, path := range []string{"/login", "/logout", "/claim", "/coats"} {
		r := httptest.NewRequest("POST", path, nil)
		r.Host = "localhost:8080"
		r.Header.Set("Origin", "https://evil.example")
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		r.AddCookie(&http.Cookie{Name: cookieName, Value: "o"})
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusForbidden {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
}
