package dashboards

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestBrowserTonightAnswersOnOneScreen holds the answers that TOUR.md reads from
// Tonight within the first screen of a phone: may I coat, why, what next, and of
// each coat when it is ready and how sure that is. The notice of oily rags is
// ticked first; while it stands it stands before everything.
func TestBrowserTonightAnswersOnOneScreen(t *testing.T) {
	b := startBrowser(t)
	home := serve(t, newHouse(whenceRoom(t)))
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.Click(chromedp.CSS(".rags form button")), chromedp.WaitVisible("body:not(:has(.rags)) h1"))
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.EmulateViewport(390, 844))
	if coats := evaluate[int](t, b, `document.querySelectorAll(".bars:not(.gates) > li").length`); coats != 2 {
		t.Fatalf("%d coats are shown, want 2", coats)
	}
	for answer, where := range map[string]string{
		"may I coat now":         ".verdict h1",
		"why":                    ".verdict .why",
		"what do I do next":      ".verdict .next",
		"when is the last ready": ".bars:not(.gates) > li:last-child svg.bar",
		"how sure is that":       ".bars:not(.gates) > li:last-child .bar-detail",
	} {
		end := evaluate[float64](t, b, `document.querySelector(`+quote(where)+`)?.getBoundingClientRect().bottom ?? 1e6`)
		if sight := evaluate[float64](t, b, `Math.min(innerHeight, document.querySelector("nav").getBoundingClientRect().top)`); sight < 700 || end > sight {
			t.Errorf("%s: it ends at %v px, and %v are in sight", answer, end, sight)
		}
	}
}
