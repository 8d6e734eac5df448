package dashboards

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// drawn waits until the script has drawn every panel, which is four with a
// coat's pace.
func (b *browser) drawn(t testing.TB) {
	t.Helper()
	b.do(t, chromedp.WaitVisible(`#chart[data-drawn="4"]`))
}

func needChartLibrary(t testing.TB) {
	t.Helper()
	if loadAssets(assetFiles).address("lib/uPlot.iife.min.js") == "" {
		t.Skip("the chart library is not built in: make build fetches it; without it the server's own drawing stands")
	}
}

func TestBrowserMovesThroughTheHistory(t *testing.T) {
	needChartLibrary(t)
	b := startBrowser(t)
	home := serve(t, newHouse(backRoom(evening)))
	b.open(t, home+"/room/back-room?span=1d", 820, "light")
	b.drawn(t)
	at := `(() => { const r = document.querySelector(".u-over").getBoundingClientRect(); return {x: r.left + r.width / 2, y: r.top + 50}; })()`
	evaluate[bool](t, b, `(() => { const p = `+at+`; document.querySelector(".u-over").dispatchEvent(new WheelEvent("wheel", {deltaY: -100, clientX: p.x, clientY: p.y, cancelable: true})); return true; })()`)
	b.text(t, "Tue 00:0", "to Tue 19:1")
	evaluate[bool](t, b, `(() => { const o = document.querySelector(".u-over"); const p = `+at+`;
		for (const [kind, dx] of [["pointerdown", 0], ["pointermove", o.clientWidth / 4], ["pointerup", o.clientWidth / 4]])
			o.dispatchEvent(new PointerEvent(kind, {pointerId: 1, pointerType: "touch", clientX: p.x + dx, clientY: p.y, bubbles: true})); return true; })()`)
	b.text(t, "Mon 19:1", "to Tue 14:2")
	evaluate[bool](t, b, `(() => { const u = document.querySelector(".uplot"); u.focus();
		for (const key of ["+", "ArrowLeft"]) u.dispatchEvent(new KeyboardEvent("keydown", {key, cancelable: true})); return document.activeElement === u; })()`)
	said := b.text(t, "Tue 00:0", "to Tue 09:", "air ", "dew point ", "humidity ", "wood moisture ", "pace of Quiet Harbour colour coat")
	if strings.Contains(said, "NaN") || strings.Contains(said, "undefined") {
		t.Error("the readout says no number")
	}
	b.do(t, chromedp.Click(chromedp.CSS("#files button")), chromedp.WaitVisible("#chart[data-kept]"))
	if kept := evaluate[string](t, b, `document.getElementById("chart").dataset.kept`); !strings.HasPrefix(kept, "2160x") {
		t.Errorf("the picture kept is %s", kept)
	}
	b.quiet(t, home)
}

// BenchmarkBrowserRedraw moves through a year that is loaded.
func BenchmarkBrowserRedraw(b *testing.B) {
	needChartLibrary(b)
	page := startBrowser(b)
	home := serve(b, newHouse(backRoom(evening)))
	page.open(b, home+"/room/back-room?span=1y", 820, "light")
	page.drawn(b)
	for b.Loop() {
		evaluate[bool](b, page, `delete document.body.dataset.ms; (async () => {
			const o = document.querySelector(".u-over");
			const start = performance.now();
			for (let i = 0; i < 50; i++) {
				o.dispatchEvent(new WheelEvent("wheel", {deltaX: i % 2 ? 20 : -20, deltaY: 0, cancelable: true}));
				await Promise.resolve();
			}
			document.body.dataset.ms = (performance.now() - start) / 50;
		})(); true`)
		page.do(b, chromedp.WaitVisible("body[data-ms]"))
		b.ReportMetric(evaluate[float64](b, page, `+document.body.dataset.ms`), "ms/redraw")
	}
}
