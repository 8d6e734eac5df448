package dashboards

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// axeSource is axe-core (Deque, MPL-2.0), which checks pages by the rules of WCAG.
// It comes from the registry for the tests alone.
func axeSource(t *testing.T) string {
	t.Helper()
	body, err := os.ReadFile("../testdata/axe/node_modules/axe-core/axe.min.js")
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("axe-core is not installed: make test fetches it")
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

// finding is one rule that a page breaks.
type finding struct {
	Rule, Help string
	Nodes      []string
	Checked    int
}

// check runs every rule of WCAG 2.0, 2.1 and 2.2 at A and AA over the page.
func (b *browser) check(t *testing.T, axe string) []finding {
	t.Helper()
	evaluate[bool](t, b, axe+"; true")
	evaluate[bool](t, b, `delete document.documentElement.dataset.axe;
		axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}).then((r) => {
			window.found = JSON.stringify(r.violations.map((v) => ({Rule: v.id, Help: v.help, Nodes: v.nodes.map((n) => n.html.slice(0, 200))})));
			window.passed = r.passes.length;
			document.documentElement.dataset.axe = "done";
		}); true`)
	b.do(t, chromedp.WaitVisible(`html[data-axe] h1`))
	if passed := evaluate[int](t, b, "window.passed"); passed < 10 {
		t.Errorf("only %d rules had anything to look at: the check is broken", passed)
	}
	var found []finding
	if err := json.Unmarshal([]byte(evaluate[string](t, b, "window.found")), &found); err != nil {
		t.Fatal(err)
	}
	return found
}

func TestBrowserPagesKeepToWCAG(t *testing.T) {
	axe := axeSource(t)
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t)))
	for _, page := range everyPage {
		for _, theme := range []string{"light", "dark"} {
			b.open(t, home+page.address, 390, theme)
			for _, f := range b.check(t, axe) {
				t.Errorf("%s, %s: %s (%s):\n%s", page.name, theme, f.Help, f.Rule, strings.Join(f.Nodes, "\n"))
			}
		}
	}
}

// The checker finds what is wrong: a picture without words and a field without a
// label.
func TestBrowserCheckerBites(t *testing.T) {
	axe := axeSource(t)
	b := startBrowser(t)
	b.open(t, serve(t, newHouse(backRoom(evening)))+"/", 390, "light")
	evaluate[bool](t, b, `document.querySelector("main").insertAdjacentHTML("beforeend", "<img src='/assets/x.png'><input type=text>"); true`)
	rules := fmt.Sprint(b.check(t, axe))
	for _, rule := range []string{"image-alt", "label"} {
		if !strings.Contains(rules, rule) {
			t.Errorf("%s is not found in %s", rule, rules)
		}
	}
}

// At 200 % zoom a window of 640 px shows 320 of them (WCAG 2.2, 1.4.4 and 1.4.10:
// nothing may need two ways of scrolling at 320 px).
func TestBrowserPagesReflow(t *testing.T) {
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t), longNames()))
	for _, page := range everyPage {
		b.open(t, home+page.address, 320, "light")
		if wide := b.overflow(t); wide > 0 {
			t.Errorf("%s at 320 px is %v px too wide", page.name, wide)
		}
	}
}

// smallTargets lists what can be tapped and is smaller than a gloved finger
// needs. A link within a sentence is as high as its line (WCAG 2.2, 2.5.8); a
// figure that stands alone is no sentence.
const smallTargets = `[...document.querySelectorAll("a[href], button, select, input, summary, textarea")]
	.filter((e) => !e.matches(".num") || e.closest("h1, b, p, li, dd, td, label").textContent.trim() === e.textContent.trim() && !e.closest("p.next"))
	.filter((e) => e.checkVisibility() && !e.closest("p.why, p.small, .skip, li p") && e.getBoundingClientRect().width > 0)
	.map((e) => { const box = (e.closest("label") || e).getBoundingClientRect(); return [e, box]; })
	.filter(([, box]) => box.height < 47.5 && box.bottom > 0)
	.map(([e, box]) => e.outerHTML.slice(0, 80) + " is " + box.height + " px high").join("\n")`

func TestBrowserTargetsSuitGloves(t *testing.T) {
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t)))
	for _, page := range everyPage {
		b.open(t, home+page.address, 390, "light")
		if small := evaluate[string](t, b, smallTargets); small != "" {
			t.Errorf("%s:\n%s", page.name, small)
		}
	}
}

// The tab key goes through a page in the order in which it reads, and what it
// reaches is not hidden under the bar.
func TestBrowserTabFollowsTheReadingOrder(t *testing.T) {
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t)))
	for _, page := range everyPage {
		b.open(t, home+page.address, 390, "light")
		evaluate[bool](t, b, `window.order = []; document.addEventListener("focusin", (e) => {
			const box = e.target.getBoundingClientRect();
			const bar = document.querySelector(".pages")?.getBoundingClientRect();
			const under = bar && !e.target.closest(".pages") && !e.target.closest(".skip") && box.top >= bar.top && getComputedStyle(document.querySelector(".pages")).position === "fixed";
			window.order.push([e.target, Boolean(under)]); }); true`)
		for range 25 {
			b.do(t, chromedp.KeyEvent("\t"))
		}
		if wrong := evaluate[string](t, b, `window.order.map(([e, under], i) => {
			const before = i && window.order[i - 1][0];
			if (before && before !== e && !(before.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING) && !e.matches(".skip, a.mark, .wall a")) return "out of order: " + e.outerHTML.slice(0, 80);
			return under ? "hidden under the bar: " + e.outerHTML.slice(0, 80) : "";
		}).filter(Boolean).join("\n")`); wrong != "" {
			t.Errorf("%s:\n%s", page.name, wrong)
		}
		if n := evaluate[int](t, b, "window.order.length"); n < 2 {
			t.Errorf("%s: the tab key reached %d things: the check is broken", page.name, n)
		}
	}
}

// Nothing moves by itself: there is no animation that reduced motion would have
// to stop.
func TestNothingIsAnimated(t *testing.T) {
	moving := regexp.MustCompile(`(?m)^\s*(animation|transition|scroll-behavior)[a-z-]*\s*:`)
	for name, f := range loadAssets(assetFiles).files {
		if strings.HasSuffix(name, ".css") && !strings.HasPrefix(name, "lib/") && moving.Match(f.body) {
			t.Errorf("%s animates: %s", name, moving.Find(f.body))
		}
	}
}
