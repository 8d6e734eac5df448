package dashboards

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// Any instant of the strip is read by a finger, by a pointer and by keys.
func TestBrowserReadsAnyInstant(t *testing.T) {
	b := startBrowser(t)
	home := serve(t, newHouse(plannedRoom(t)))
	b.open(t, home+"/", 390, "light")
	b.text(t, "Fit to coat")
	point := func(kind, pointer string, share float64) {
		evaluate[bool](t, b, `(() => { const s = document.querySelector("[data-strip]"), r = s.getBoundingClientRect();
			s.dispatchEvent(new PointerEvent(`+quote(kind)+`, {pointerType: `+quote(pointer)+`, clientX: r.left + r.width * `+number(share, 2)+`, clientY: r.top + 5, bubbles: true})); return true; })()`)
	}
	point("pointerdown", "touch", 0.5) // the middle of 19:40 to 12:00 is 03:50
	b.text(t, "03:50: dew margin 2.2 K, likely between", "under the limit: put no coat on; Linen press, doors: likely dry to recoat, not surely; Linen press, top: almost surely not yet dry to recoat.")
	point("pointermove", "touch", 0.1)
	b.text(t, "21:20: dew margin", "measured")
	evaluate[bool](t, b, `(() => { const s = document.querySelector("[data-strip]"); s.focus();
		for (let i = 0; i < 4; i++) s.dispatchEvent(new KeyboardEvent("keydown", {key: "PageDown", cancelable: true})); return document.activeElement === s; })()`)
	b.text(t, "01:20: dew margin")
	b.quiet(t, home)
}

func quote(s string) string { return `"` + s + `"` }

// Every number of the verdict, and every time, leads to where it comes from.
func TestBrowserSaysWhy(t *testing.T) {
	b := startBrowser(t)
	home := serve(t, newHouse(plannedRoom(t)))
	b.open(t, home+"/", 390, "dark")
	if text := b.text(t, "Why 03:25?"); strings.Contains(text, "Put on at 20:50.") {
		t.Fatal("it is told before it was asked")
	}
	b.do(t, chromedp.Click(chromedp.CSS("#why-c-0007 summary")))
	b.text(t, "The label: 2 h until it is dry to recoat at 23.0 °C and 50 %", "Put on at 20:50. In the 50 min since, 36 min have passed on the label's clock: 30 % of the way.",
		"pace 0.68", "200 ways the room may go", "No touch test has taught yet")
	b.do(t, chromedp.Click(chromedp.CSS("a.num")))
	b.text(t, "Dew point 10.9 °C: reckoned from those two, over water.")
	b.quiet(t, home)
}
