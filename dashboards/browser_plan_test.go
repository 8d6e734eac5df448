package dashboards

import (
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// chainShown is what the plan says: the work before each coat, when it goes on and
// is ready, when all is done, and the start.
func (b *browser) chainShown(t testing.TB) []string {
	t.Helper()
	return evaluate[[]string](t, b, `[...document.querySelectorAll("#start, #plan .bars .bar-detail, #plan .why")].map((e) => e.textContent.trim())`)
}

// planMoved waits until the plan and its address are others than they were and
// rest, and returns what it says.
func (b *browser) planMoved(t testing.TB, before []string, search string) (now []string, address string) {
	t.Helper()
	now, address = before, search
	since, deadline := time.Now(), time.Now().Add(30*time.Second)
	for ; slices.Equal(now, before) || address == search || time.Since(since) < time.Second; time.Sleep(50 * time.Millisecond) {
		if next, at := b.chainShown(t), evaluate[string](t, b, `location.search`); !slices.Equal(next, now) || at != address {
			now, address, since = next, at, time.Now()
		}
		if time.Now().After(deadline) {
			t.Fatalf("the plan still says %q at %s", now, address)
		}
	}
	return now, address
}

// The start of a part's chain is dragged along tomorrow, and all of it moves.
func TestBrowserDragsAPlan(t *testing.T) {
	b := startBrowser(t)
	home := serve(t, newHouse(plannedRoom(t)))
	b.touchScreen(t)
	b.open(t, home+"/plan?part=p-0001.1", 390, "light")
	b.text(t, "Colour 2 of 2: Quiet Harbour colour coat", "Topcoat", "Before it: sand lightly")
	search, shown := evaluate[string](t, b, `location.search`), b.chainShown(t)
	bar := func() spot {
		p := b.boxOf(t, ".bar.first .bar-solid")
		return spot{p.Left + min(p.Width/2, 20), p.Top + p.Height/2}
	}
	right := func(s spot, by float64) spot { return spot{s.X + by, s.Y} }
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"the mouse", func() { at := bar(); b.mouseDrag(t, at, right(at, 60)) }},
		{"a finger", func() { at := bar(); b.touchDrag(t, [2]spot{at, right(at, 40)}) }},
		{"the arrow keys", func() {
			b.do(t, chromedp.Focus(chromedp.CSS("#at")), chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
		}},
		{"a toggle", func() { b.do(t, chromedp.Click(chromedp.CSS("#with-warm"))) }},
	} {
		before := shown
		c.do()
		shown, search = b.planMoved(t, shown, search)
		if len(shown) != len(before) {
			t.Fatalf("%s: the plan says %d things, and said %d", c.name, len(shown), len(before))
		}
		if start := len(shown) - 1; c.name != "a toggle" && shown[start] == before[start] {
			t.Errorf("%s: the start is still %s", c.name, shown[start])
		}
		if first, done := 1, len(shown)-2; shown[first] == before[first] || shown[done] == before[done] {
			t.Errorf("%s moved only a part of the chain: %q", c.name, shown)
		}
		b.open(t, home+"/plan"+search, 390, "light")
		if again := b.chainShown(t); !slices.Equal(again, shown) {
			t.Errorf("%s: after loading it again the plan says %q, and said %q", c.name, again, shown)
		}
	}
	b.text(t, "What if", "Warm the air by 4 K", "kWh")
	b.do(t, chromedp.Evaluate[chromedp.Void](`(() => { const s = document.querySelector("select[name=part]"); s.value = "p-0001.3"; s.dispatchEvent(new Event("input", {bubbles: true})); })()`))
	b.text(t, "Prime")
	b.quiet(t, home)
}
