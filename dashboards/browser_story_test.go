package dashboards

import (
	"bytes"
	"context"
	"os"
	"regexp"
	"sync/atomic"
	"testing"
	"time"

	devtools "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

// hand is a finisher's hand on a phone: it counts what it taps.
type hand struct {
	*browser
	home  string
	clock *atomic.Int64 // the shop's, in milliseconds since 1970
	taps  int
}

// at sets the shop's clock.
func (h *hand) at(t *testing.T, instant string) {
	t.Helper()
	when, err := time.Parse(time.RFC3339, instant)
	if err != nil {
		t.Fatal(err)
	}
	h.clock.Store(when.UnixMilli())
}

// go opens a page, as from a bookmark or the bar.
func (h *hand) open(t *testing.T, path string) {
	t.Helper()
	h.browser.open(t, h.home+path, 390, "light")
}

// tap taps what a selector finds first, and waits until the page says want.
func (h *hand) tap(t *testing.T, selector, want string) {
	t.Helper()
	h.taps++
	h.do(t, chromedp.Click(chromedp.CSS(selector)))
	h.text(t, want)
}

// named gives the form around what a selector finds the name of its tap, which
// a phone would make up.
func (h *hand) named(t *testing.T, selector, name string) {
	t.Helper()
	if !evaluate[bool](t, h.browser, `(() => { const f = document.querySelector(`+"`"+selector+"`"+`)?.closest("form"); if (!f) return false; f.dataset.tap = "`+name+`"; return true; })()`) {
		t.Fatalf("%s is not on the page:\n%s", selector, h.text(t))
	}
}

// fill types into fields, and chooses from lists.
func (h *hand) fill(t *testing.T, values map[string]string) {
	t.Helper()
	for id, value := range values {
		if !evaluate[bool](t, h.browser, `(() => { const f = document.getElementById("f-`+id+`") ?? document.querySelector("[name='`+id+`']"); if (!f) return false; f.value = "`+value+`"; return f.value === "`+value+`"; })()`) {
			t.Fatalf("the form takes no %s %q", id, value)
		}
	}
}

// A whole piece by hand on a phone, from the label to the buyer, leaves in the
// journal what the same story leaves that is told to the shell.
func TestBrowserDoesAWholePiece(t *testing.T) {
	b := startBrowser(t)
	j := openBook(t)
	var clock atomic.Int64
	now := func() time.Time { return time.UnixMilli(clock.Load()).UTC() }
	h := &hand{browser: b, clock: &clock}
	h.at(t, "2026-03-01T18:00:00Z")
	if err := j.AddRoom(t.Context(), shop.Room{ID: "back-room", Title: "Back room"}, now()); err != nil {
		t.Fatal(err)
	}
	h.home = serveHandler(t, New(Options{
		House: newHouse(backRoom(now())), Book: bookOf(j), Cards: cardsOf{j}, Compat: compat.NewTable(), Location: time.UTC, Now: now,
	}))

	h.open(t, "/products/new")
	h.fill(t, map[string]string{
		"name": "Quiet Harbour colour coat", "kind": "waterborne/acrylic", "stated.air": "23", "stated.rh": "50", "stated.film": "100",
		"stated.touch": "30", "stated.touch-unit": "m", "stated.sand": "3", "stated.sand-unit": "h", "stated.recoat": "2", "stated.recoat-unit": "h",
		"stated.recoat_by": "72", "stated.recoat_by-unit": "h", "stated.handle": "12", "stated.handle-unit": "h", "stated.cure": "21", "stated.cure-unit": "d",
		"limits.air_min": "10", "limits.air_max": "32", "limits.rh_max": "85", "limits.dew_margin_min": "3", "limits.film_forms_above": "8",
	})
	h.tap(t, "form.label button", "The label is kept.")

	h.at(t, "2026-03-01T18:02:00Z")
	h.open(t, "/pieces/new")
	h.fill(t, map[string]string{
		"name": "Wash stand", "part1": "top", "material1": "oak", "thickness1": "22", "part2": "carcass", "material2": "pine", "thickness2": "18",
		"part3": "drawer fronts", "material3": "pine", "thickness3": "18", "client": "rings before she comes",
	})
	h.tap(t, "form.sheet button", "The piece is in the journal.")

	h.at(t, "2026-03-01T18:03:00Z")
	for _, part := range []string{"p-0001.1", "p-0001.2", "p-0001.3"} {
		h.open(t, "/parts/"+part+"/schedule")
		h.tap(t, `form:has([value="clear-waterborne"]) button`, "The schedule is kept.")
	}

	step := func(when, number, name, want string) {
		t.Helper()
		h.at(t, when)
		h.open(t, "/")
		button := `form[action="/parts/p-0001.1/steps/` + number + `/done"] button`
		h.named(t, button, name)
		h.tap(t, button, want)
	}
	step("2026-03-01T18:20:00Z", "1", "story-tick-top-1", "Noted as done.")
	step("2026-03-01T18:30:00Z", "2", "story-tick-top-2", "Noted as done.")
	step("2026-03-01T18:50:00Z", "3", "story-tick-top-3", "Noted as done.")

	// The first coat, with its film and its method.
	h.at(t, "2026-03-01T19:00:00Z")
	h.open(t, "/coats/new?part=p-0001.1")
	h.taps++
	h.do(t, chromedp.Click(chromedp.CSS("main details summary")))
	h.fill(t, map[string]string{"product": "f-0001", "film": "100", "method": "brush"})
	h.named(t, "main details form.sheet button", "story-coat-top-1")
	h.tap(t, "main details form.sheet button", "The coat is noted.")

	// The next ones as last time: two taps from the piece.
	onPart := func(when, part, name string) {
		t.Helper()
		h.at(t, when)
		h.open(t, "/pieces/p-0001")
		before := h.taps
		h.tap(t, `a.button[href="/coats/new?part=`+part+`"]`, "One tap notes it")
		button := `form[data-then] button`
		h.named(t, button, name)
		h.tap(t, button, "The coat is noted.")
		if n := h.taps - before; n > 2 {
			t.Errorf("a coat on %s takes %d taps", part, n)
		}
	}
	onPart("2026-03-01T19:05:00Z", "p-0001.2", "story-coat-carcass-1")
	onPart("2026-03-01T19:10:00Z", "p-0001.3", "story-coat-fronts-1")

	touch := func(when, coat, found, name string) {
		t.Helper()
		h.at(t, when)
		h.open(t, "/coats/"+coat)
		button := "#" + found + "-" + coat
		h.named(t, button, name)
		h.tap(t, button, "The touch test is noted.")
	}
	touch("2026-03-01T20:00:00Z", "c-0001", "tacky", "story-touch-top-1")
	touch("2026-03-01T22:30:00Z", "c-0001", "dry", "story-touch-top-2")

	step("2026-03-02T07:00:00Z", "5", "story-tick-top-5", "Noted as done.")
	// Coat on now, from opening Tonight: one tap.
	coat := func(when, name string) {
		t.Helper()
		h.at(t, when)
		h.open(t, "/")
		before := h.taps
		button := `form[action="/coats"]:has([name="part"][value="p-0001.1"]) button`
		h.named(t, button, name)
		h.tap(t, button, "The coat is noted.")
		if n := h.taps - before; n > 2 {
			t.Errorf("coat on now takes %d taps from opening Tonight", n)
		}
	}
	coat("2026-03-02T07:10:00Z", "story-coat-top-2")
	coat("2026-03-02T12:00:00Z", "story-coat-top-3")
	step("2026-03-03T07:00:00Z", "8", "story-tick-top-8", "Noted as done.")
	step("2026-03-24T08:00:00Z", "9", "story-tick-top-9", "Noted as done.")

	h.at(t, "2026-03-24T09:00:00Z")
	h.open(t, "/pieces/p-0001")
	button := `form[action="/pieces/p-0001/delivered"] button`
	h.named(t, button, "story-deliver")
	h.tap(t, button, "Delivered 24 Mar 2026.")
	h.tap(t, `a[href="/pieces/p-0001/care"]`, "When it is fully hard")
	h.text(t, "Wash stand", "Delivered 24 March 2026", "Quiet Harbour colour coat (water-based, acrylic)")
	if n := h.sheets(t); n != 1 {
		t.Errorf("the care card is printed on %d sheets", n)
	}
	b.quiet(t, h.home)
	t.Logf("%d taps for the whole piece, with the forms' own buttons", h.taps)

	var got bytes.Buffer
	if err := j.Backup(context.WithoutCancel(t.Context()), &got); err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("../testdata/story/journal.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.Bytes(), want) {
		t.Errorf("the journal is not that of the same story by the shell:\n%s", firstDifference(got.String(), string(want)))
	}
}

// sheets is how many sheets of A4 the page is printed on.
func (h *hand) sheets(t *testing.T) int {
	t.Helper()
	printed, err := chromedp.Call(h.ctx, devtools.PrintToPDF, devtools.PrintToPDFParams{PreferCSSPageSize: new(true)})
	if err != nil {
		t.Fatal(err)
	}
	return len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(printed.Data, -1))
}

// firstDifference shows where two texts part.
func firstDifference(got, want string) string {
	n := 0
	for n < len(got) && n < len(want) && got[n] == want[n] {
		n++
	}
	from := max(0, n-200)
	return "got  …" + got[from:min(len(got), n+300)] + "\nwant …" + want[from:min(len(want), n+300)]
}
