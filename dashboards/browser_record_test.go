package dashboards

import (
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// A record is short on a phone, each part under a sentence with its figures, and
// whole on paper.
func TestBrowserFoldsARecordAndPrintsAllOfIt(t *testing.T) {
	b := startBrowser(t)
	home := serveAll(t, newHouse(plannedRoom(t)))
	b.open(t, home+"/coats/c-0007/record", 390, "light")
	b.text(t, "Against the label and published practice", "met, 5 not met; of", "Dry to recoat after", "Until dry to recoat: air")
	hidden := `[...document.querySelectorAll(".record table")].filter((x) => !x.checkVisibility({contentVisibilityAuto: true}) || x.getBoundingClientRect().height < 1).length`
	tables := evaluate[int](t, b, `document.querySelectorAll(".record table").length`)
	if n := evaluate[int](t, b, hidden); n != tables || n < 10 {
		t.Errorf("on the screen %d of %d tables are folded, want all", n, tables)
	}
	if high := evaluate[float64](t, b, `document.documentElement.scrollHeight`); high > 3500 {
		t.Errorf("folded it is still %.0f px high", high)
	}
	command(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	b.do(t, chromedp.Poll[chromedp.Void](`matchMedia("print").matches && document.querySelector(".record table").checkVisibility()`))
	if n := evaluate[int](t, b, hidden); n != 0 {
		t.Errorf("on paper %d of %d tables are hidden", n, tables)
	}
	b.quiet(t, home)
}
