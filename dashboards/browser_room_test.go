package dashboards

import (
	"context"
	"errors"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"recoat/drying"
	"recoat/internal/alert"
)

// drawn waits until the script has drawn every panel, which is five with alerts
// and a coat's pace.
func (b *browser) drawn(t testing.TB) {
	t.Helper()
	b.do(t, chromedp.WaitVisible(`#chart[data-drawn="5"]`))
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

// fullYear is a year as a store gives it: as many points as it ever does, two
// surfaces, and as many marks as are shown.
type fullYear struct{}

func (fullYear) Band(_ context.Context, _ string, from, to time.Time) ([]Point, error) {
	points, err := fakeHistory{}.Band(context.Background(), "", from, to)
	for i := range points {
		points[i].Surfaces["28-0000000000a1"] = points[i].Surfaces["28-0000000000a2"] + 1.2
	}
	between, err2 := fakeHistory{}.Band(context.Background(), "", from.Add(to.Sub(from)/480), to)
	points = append(points, between...)
	slices.SortFunc(points, func(a, b Point) int { return a.At.Compare(b.At) })
	return points, errors.Join(err, err2)
}

func (fullYear) Doings(_ context.Context, _ string, from, to time.Time) ([]Doing, error) {
	product, err := quietHarbour().Complete()
	var all []Doing
	for i := range mostMarks {
		at := from.Add(to.Sub(from) * time.Duration(i) / mostMarks)
		all = append(all, Doing{At: at, Text: "a coat", Coat: "c-0001", Put: &drying.Coat{Product: product, Applied: at}})
	}
	return all, err
}

func (fullYear) Told(_ context.Context, _ string, from, to time.Time) ([]alert.Episode, error) {
	var all []alert.Episode
	for i := range mostLetters {
		at := from.Add(to.Sub(from) * time.Duration(i) / mostLetters)
		all = append(all, alert.Episode{ID: unix(at), State: alert.Cleared, Severity: alert.Warning, Title: "an alert", RaisedAt: at, EndedAt: at.Add(72 * time.Hour)})
	}
	return all, nil
}

// BenchmarkBrowserRedraw moves through a year that is loaded: ms/redraw is one
// movement of the chart with all its panels, marks and alerts.
func BenchmarkBrowserRedraw(b *testing.B) {
	needChartLibrary(b)
	page := startBrowser(b)
	server := httptest.NewServer(New(Options{
		House: newHouse(backRoom(evening)), History: fullYear{}, Doings: fullYear{}, Told: fullYear{}, Location: shopZone, Now: func() time.Time { return evening },
	}))
	b.Cleanup(server.Close)
	page.open(b, server.URL+"/room/back-room?span=1y", 820, "light")
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
