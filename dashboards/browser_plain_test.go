package dashboards

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Without scripts every page reads the same, a number still leads to where it
// comes from and opens what it is folded into, and a form still does its work.
func TestBrowserReadsWithoutScripts(t *testing.T) {
	b := startBrowser(t)
	command(t, b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	home := serveAll(t, newHouse(whenceRoom(t)))
	for _, page := range everyPage {
		b.open(t, home+page.address, 390, "light")
		b.text(t, page.says...)
	}
	for _, at := range []struct{ page, number, says string }{
		{"/", `.verdict .num[href="#from-back-room-surface-2"]`, "measured by probe 28-0000000000a2"},
		{"/", `.when > .num[href="#from-c-0002"]`, "In the middle of them it ends at 03:25"},
		{"/coats/c-0002", `dd > .num[href="#from-window"]`, "The label asks for the next coat within 3 days"},
		{"/room/back-room", `dd > .num[href="#from-wood"]`, "Wood Handbook"},
		{"/shelf", ".amount > .num", "Put on the shelf with 2.5 L"},
		{"/plan", `.bar-detail .num[href="#from-plan-coat-1"]`, "It begins at the start that is asked for."},
	} {
		b.open(t, home+at.page, 390, "light")
		if b.shows(t, at.says) {
			t.Fatalf("%s: %q is in sight before it is asked for: the check is broken", at.page, at.says)
		}
		b.do(t, chromedp.Click(chromedp.CSS(at.number)))
		b.text(t, at.says)
	}
	b.open(t, home+"/", 390, "light")
	b.do(t, chromedp.Click(chromedp.CSS("#dry-c-0002")))
	b.text(t, "The touch test is noted.")
	b.quiet(t, home)
}

// shows reports whether the page shows a text, and not only holds it in a fold.
func (b *browser) shows(t *testing.T, text string) bool {
	t.Helper()
	return len(missingFrom(evaluate[string](t, b, `document.body.innerText.replace(/\s+/g, " ")`), []string{text})) == 0
}
