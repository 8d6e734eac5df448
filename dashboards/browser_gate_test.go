package dashboards

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"recoat/internal/access"
)

// fakePeople are an owner and two others.
type fakePeople struct{}

func (fakePeople) Accounts(context.Context) ([]access.Account, error) {
	return []access.Account{{Name: "ida", Role: access.Helper}, {Name: "mona", Role: access.Owner}, {Name: "screen by the door", Role: access.Wall}}, nil
}
func (fakePeople) Add(context.Context, string, access.Role, string) error { return nil }
func (fakePeople) SetPassword(context.Context, string, string) error      { return nil }
func (fakePeople) Remove(context.Context, string) error                   { return nil }
func (fakePeople) Entries(context.Context, int32) ([]access.Entry, error) {
	return []access.Entry{
		{At: evening.Add(-time.Minute), What: "logged in", Who: "mona", Origin: "192.0.2.7"},
		{At: evening.Add(-time.Hour), What: "log-in refused", Who: "admin", Origin: "192.0.2.9"},
		{At: evening.Add(-50 * time.Hour), What: "account added as helper", Who: "ida"},
	}, nil
}

// serveGated serves the pages behind a gate that lets anybody in as the owner.
func serveGated(t *testing.T) (gate *fakeGate, home string) {
	t.Helper()
	gate = threeRoles()
	gate.sessions["fresh"] = access.Visitor{Name: "mona", Role: access.Owner}
	return gate, serveHandler(t, New(Options{
		House: newHouse(twoCoats(evening)), History: fakeHistory{}, Book: bookOf(openBook(t)), Location: shopZone,
		Now: func() time.Time { return evening }, Gate: gate, People: fakePeople{}, Authority: []byte("x"),
	}))
}

// A browser that asks for Tonight logs in and gets it, sees the accounts, and
// after logging out sees nothing any more. RECOAT_PICTURES is as for every page.
func TestBrowserLogsIn(t *testing.T) {
	b := startBrowser(t)
	gate := threeRoles()
	gate.sessions["fresh"] = access.Visitor{Name: "mona", Role: access.Owner}
	home := serveHandler(t, New(Options{
		House: newHouse(twoCoats(evening)), History: fakeHistory{}, Book: bookOf(openBook(t)), Location: shopZone,
		Now: func() time.Time { return evening }, Gate: gate, People: fakePeople{}, Authority: []byte("x"),
	}))
	look := func(name, address string, says ...string) {
		t.Helper()
		for _, width := range []int64{390, 820, 1920} {
			for _, theme := range []string{"light", "dark"} {
				b.open(t, home+address, width, theme)
				b.text(t, says...)
				if wide := b.overflow(t); wide > 0 {
					t.Errorf("%s at %d px is %v px too wide", name, width, wide)
				}
				if folder := os.Getenv("RECOAT_PICTURES"); folder != "" {
					b.shot(t, filepath.Join(folder, name+"-"+theme+"-"+strconv.FormatInt(width, 10)+".png"))
				}
			}
		}
	}
	gate.claimed = false
	look("claim", "/", "Make this shop yours", "Code on the terminal")
	gate.claimed = true
	look("login", "/", "Log in", "Forgotten it?")
	b.logIn(t)
	b.text(t, "Fit to coat, until about")
	look("account", "/account", "You may do everything here.", "Who may come in", "log-in refused", "Let them in")
	b.do(t, chromedp.Click(`form[action="/logout"] button`), chromedp.WaitVisible(`form[action="/login"]`))
	b.open(t, home+"/account", 390, "light")
	b.text(t, "Log in")
	b.quiet(t, home)
}

// logIn fills in the log-in page that is open.
func (b *browser) logIn(t *testing.T) {
	t.Helper()
	b.do(t, chromedp.SendKeys("#name", "mona"), chromedp.SendKeys("#password", "ash and walnut\r"), chromedp.WaitVisible("nav.pages"))
}

func TestBrowserEntranceKeepsToWCAG(t *testing.T) {
	axe := axeSource(t)
	b := startBrowser(t)
	gate, home := serveGated(t)
	look := func(name, address string) {
		t.Helper()
		for _, theme := range []string{"light", "dark"} {
			b.open(t, home+address, 390, theme)
			for _, f := range b.check(t, axe) {
				t.Errorf("%s, %s: %s (%s):\n%s", name, theme, f.Help, f.Rule, strings.Join(f.Nodes, "\n"))
			}
		}
	}
	gate.claimed = false
	look("claim", "/")
	gate.claimed = true
	look("login", "/")
	b.logIn(t)
	look("account", "/account")
}
