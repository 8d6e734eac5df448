package dashboards

import (
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

// wire is the way from a phone to the hub. It can be cut, and it can lose an
// answer on its way back.
type wire struct {
	hub   http.Handler
	cut   atomic.Bool
	loses atomic.Int32 // that many answers to forms
}

func (w *wire) ServeHTTP(out http.ResponseWriter, r *http.Request) {
	switch {
	case w.cut.Load():
		drop(out)
	case r.Method == http.MethodPost && w.loses.Add(-1) >= 0:
		w.hub.ServeHTTP(httptest.NewRecorder(), r)
		drop(out)
	default:
		w.hub.ServeHTTP(out, r)
	}
}

// drop closes the connection without a word.
func drop(out http.ResponseWriter) {
	conn, _, err := http.NewResponseController(out).Hijack()
	if err == nil {
		_ = conn.Close() // that is all there is to say
	}
}

// workshop is a journal with a coat on the doors, and the pages over it with a
// clock that runs.
func workshop(t *testing.T) (*shop.Journal, http.Handler) {
	t.Helper()
	j := bench(t)
	if _, err := j.ApplyCoat(t.Context(), shop.Application{Part: "p-0001.1", Product: "f-0001", Applied: evening.Add(-time.Hour), Film: 100, Method: shop.Brush}, evening); err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	return j, New(Options{
		House: newHouse(backRoom(evening)), Book: bookOf(j), Compat: compat.NewTable(), Location: shopZone,
		Now: func() time.Time { return evening.Add(time.Since(start)) },
	})
}

// A phone that is out of reach keeps its taps, says so, and sends them once the
// hub is back: once each, with the time they were made, even where an answer is
// lost.
func TestBrowserKeepsTapsWhileTheHubIsOutOfReach(t *testing.T) {
	b := startBrowser(t)
	j, hub := workshop(t)
	w := &wire{hub: hub}
	server := httptest.NewServer(w)
	t.Cleanup(server.Close)
	b.open(t, server.URL+"/", 390, "dark")
	b.text(t, "Quiet Harbour colour coat: 100 µm wet, by brush, as last time")

	w.cut.Store(true)
	server.CloseClientConnections()
	b.do(t, chromedp.Click(chromedp.CSS(`form[action="/coats"]:has([value="p-0001.1"]) button`)))
	b.text(t, "The hub is out of reach. 1 tap, made at", "is kept on this phone and goes by itself when the hub is back")
	made := time.Now()
	// A touch test joins the pile.
	evaluate[bool](t, b, `(() => { const f = document.createElement("form"); f.method = "post"; f.action = "/coats/c-0001/touches"; f.dataset.tap = ""; f.innerHTML = '<button id="late" name="found" value="tacky">Tacky</button>'; document.body.append(f); return true; })()`)
	b.do(t, chromedp.Click(chromedp.CSS("#late")))
	b.text(t, "The hub is out of reach. 2 taps, the first made at")
	if all := coats(t, j); len(all) != 1 {
		t.Fatalf("%d coats while nothing can arrive", len(all))
	}
	time.Sleep(1500 * time.Millisecond) // so that the time of the tap is not that of its arrival

	w.loses.Store(2) // of the coat, twice: it is noted, and the phone never hears
	w.cut.Store(false)
	b.text(t, "The touch test is noted.", "Undo")
	for deadline := time.Now().Add(20 * time.Second); evaluate[string](t, b, `localStorage.getItem("recoat.taps") ?? "none"`) != "none"; {
		if time.Now().After(deadline) {
			t.Fatal("the pile is never empty")
		}
		time.Sleep(50 * time.Millisecond)
	}
	all := coats(t, j)
	if len(all) != 2 {
		t.Fatalf("%d coats, want the old one and the new one once: %+v", len(all), all)
	}
	if late := all[1].Recorded.Sub(all[1].Applied); late < time.Second || late > time.Since(made)+5*time.Second {
		t.Errorf("applied %s, recorded %s: the time is not that of the tap", all[1].Applied, all[1].Recorded)
	}
	touches, err := j.Touches(t.Context(), "c-0001")
	if err != nil || len(touches) != 1 {
		t.Errorf("touch tests %+v, %v", touches, err)
	}
	if hidden := evaluate[bool](t, b, `document.getElementById("waiting").hidden`); !hidden {
		t.Error("the page says still that taps wait")
	}
}

// Two phones over the same coat see each other's changes, and lose none.
func TestBrowsersOfTwoPhonesSeeEachOther(t *testing.T) {
	one := startBrowser(t)
	two := startBrowser(t)
	j, hub := workshop(t)
	home := serveHandler(t, hub)
	for _, b := range []*browser{one, two} {
		b.open(t, home+"/coats/c-0001", 390, "light")
		b.text(t, "100 µm")
	}
	time.Sleep(2 * time.Second) // until both listen: a page that was just served is current
	seen := func(b *browser, want string) {
		t.Helper()
		began := time.Now()
		b.text(t, want)
		t.Logf("seen after %s", time.Since(began).Round(10*time.Millisecond))
	}
	one.do(t, chromedp.Click(chromedp.CSS("#tacky-c-0001")))
	seen(two, "tacky 21:4")
	two.do(t, chromedp.Click(chromedp.CSS("#dry-c-0001")))
	seen(one, "dry 21:4")

	// Both opened the form before either sent it, and change different things.
	edit := func(b *browser, key, value string) {
		t.Helper()
		b.do(t, chromedp.Click(chromedp.CSS("main > details summary")))
		evaluate[bool](t, b, `(document.getElementById("f-`+key+`").value = "`+value+`") !== ""`)
	}
	edit(one, "film", "120")
	edit(two, "note", "second brush")
	one.do(t, chromedp.Click(chromedp.CSS("main > details form.sheet button")))
	one.text(t, "The change is kept", "120 µm")
	two.do(t, chromedp.Click(chromedp.CSS("main > details form.sheet button")))
	two.text(t, "The change is kept", "120 µm", "second brush")
	c, err := j.Coat(t.Context(), "c-0001")
	if err != nil || c.Film != 120 || c.Note != "second brush" {
		t.Errorf("kept %+v, %v", c, err)
	}
}
