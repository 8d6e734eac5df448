package links

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/alert"
)

const host = "192.0.2.7:7424"

// noted is what links made hands do.
type noted struct {
	did  []string
	fail error
}

func (n *noted) Describe(_ context.Context, l alert.Link) string { return "do " + l.Action }
func (n *noted) Acknowledge(episode string) error                { return n.note("seen " + episode) }
func (n *noted) Snooze(episode string, d time.Duration) error {
	return n.note("snooze " + episode + " " + d.String())
}
func (n *noted) Coat(_ context.Context, coat string, _ time.Time) error {
	return n.note("coat " + coat)
}
func (n *noted) Touch(_ context.Context, coat, found string, _ time.Time) error {
	return n.note("touch " + coat + " " + found)
}

func (n *noted) note(what string) error {
	if n.fail == nil {
		n.did = append(n.did, what)
	}
	return n.fail
}

// desk is a handler with a real outbox and what makes its links.
type desk struct {
	http.Handler
	signer *alert.Signer
	hands  *noted
	now    time.Time
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	o, err := alert.OpenOutbox(t.Context(), filepath.Join(t.TempDir(), "outbox.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = o.Close() })
	signer, err := alert.NewSigner([]byte(strings.Repeat("k", alert.LinkKeySize)))
	if err != nil {
		t.Fatal(err)
	}
	d := &desk{signer: signer, hands: &noted{}, now: time.Date(2031, 3, 4, 3, 0, 0, 0, time.UTC)}
	d.Handler = New(Config{Signer: signer, Ledger: o, Hands: d.hands, Host: host, Now: func() time.Time { return d.now }, Log: slog.New(slog.DiscardHandler)})
	return d
}

func (d *desk) link(t *testing.T, action, subject, nonce string) string {
	t.Helper()
	token, err := d.signer.Sign(alert.Link{Action: action, Subject: subject, Episode: "e1", Expires: d.now.Add(time.Hour), Nonce: nonce}, d.now)
	if err != nil {
		t.Fatal(err)
	}
	return Path + token
}

func (d *desk) ask(method, at, path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://"+at+path, nil)
	w := httptest.NewRecorder()
	d.ServeHTTP(w, r)
	return w
}

func TestALinkIsShownByAGetAndFollowedByAPostOnce(t *testing.T) {
	d := newDesk(t)
	for i, c := range []struct{ action, subject, want string }{
		{alert.ActionSeen, "", "seen e1"}, {alert.ActionSnooze, "1h", "snooze e1 1h0m0s"},
		{alert.ActionCoat, "c-0007", "coat c-0007"}, {alert.ActionTouch, "c-0007 tacky", "touch c-0007 tacky"},
	} {
		d.now = d.now.Add(time.Minute) // all tries are there again
		path := d.link(t, c.action, c.subject, c.action)
		for range 3 { // programs that look ahead
			if w := d.ask(http.MethodGet, host, path); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "<button>") {
				t.Errorf("%s: %d", c.action, w.Code)
			}
		}
		if len(d.hands.did) != i {
			t.Fatalf("looking at a link did %v", d.hands.did)
		}
		if w := d.ask(http.MethodPost, host, path); w.Code != http.StatusOK {
			t.Errorf("%s: %d", c.action, w.Code)
		}
		for _, method := range []string{http.MethodPost, http.MethodGet} {
			w := d.ask(method, host, path)
			if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "used already") || strings.Contains(w.Body.String(), "<button>") {
				t.Errorf("%s again, %s: %d", c.action, method, w.Code)
			}
		}
		if got := d.hands.did[len(d.hands.did)-1]; got != c.want || len(d.hands.did) != i+1 {
			t.Errorf("%s did %v", c.action, d.hands.did)
		}
	}
}

func TestLinksThatAreRefusedDoNothing(t *testing.T) {
	d := newDesk(t)
	good := d.link(t, alert.ActionSeen, "", "n1")
	foreign, err := alert.NewSigner([]byte(strings.Repeat("x", alert.LinkKeySize)))
	if err != nil {
		t.Fatal(err)
	}
	token, err := foreign.Sign(alert.Link{Action: alert.ActionSeen, Episode: "e1", Expires: d.now.Add(time.Hour), Nonce: "n2"}, d.now)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		at, path string
		code     int
		says     string
	}{
		"altered":           {host, good[:len(good)-2] + "xx", http.StatusForbidden, "altered"},
		"another hub's":     {host, Path + token, http.StatusForbidden, "altered"},
		"no link":           {host, Path + "abc", http.StatusForbidden, "altered"},
		"another name":      {"evil.example:7424", good, http.StatusMisdirectedRequest, "Not this address"},
		"another port":      {"192.0.2.7:80", good, http.StatusMisdirectedRequest, "Not this address"},
		"the machine's own": {"localhost:7424", good, http.StatusMisdirectedRequest, "Not this address"},
		"a page of recoat":  {host, "/", http.StatusNotFound, "Nothing is here"},
	} {
		for _, method := range []string{http.MethodGet, http.MethodPost} {
			w := d.ask(method, c.at, c.path)
			if w.Code != c.code || !strings.Contains(w.Body.String(), c.says) || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
				t.Errorf("%s, %s: %d %s", name, method, w.Code, w.Body)
			}
		}
	}
	d.now = d.now.Add(2 * time.Hour)
	if w := d.ask(http.MethodPost, host, good); w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "expired") {
		t.Errorf("expired: %d %s", w.Code, w.Body)
	}
	if len(d.hands.did) != 0 {
		t.Errorf("refused, and yet did %v", d.hands.did)
	}
}

func TestWhatCannotBeNotedIsSaid(t *testing.T) {
	d := newDesk(t)
	d.hands.fail = errors.New("no such alert stands")
	if w := d.ask(http.MethodPost, host, d.link(t, alert.ActionSeen, "", "n1")); w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "No such alert stands.") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

func TestWhoeverAsksTooOftenWaits(t *testing.T) {
	d := newDesk(t)
	var codes []int
	for range burst + 1 {
		codes = append(codes, d.ask(http.MethodGet, host, Path+"guess").Code)
	}
	if codes[burst-1] != http.StatusForbidden || codes[burst] != http.StatusTooManyRequests {
		t.Errorf("%v", codes)
	}
	d.now = d.now.Add(refill)
	if code := d.ask(http.MethodGet, host, Path+"guess").Code; code != http.StatusForbidden {
		t.Errorf("after a pause: %d", code)
	}
}

func TestTheLimiterRemembersNotTooMany(t *testing.T) {
	now := time.Date(2031, 3, 4, 3, 0, 0, 0, time.UTC)
	l := newLimiter(func() time.Time { return now })
	for i := range 3 * mostAskers {
		l.allow(time.Duration(i).String())
	}
	if n := len(l.all); n > mostAskers+1 {
		t.Errorf("%d askers are remembered", n)
	}
	if diff := cmp.Diff(false, l.allow("a new one")); diff != "" {
		t.Errorf("beyond those all share one: %s", diff)
	}
}
