package dashboards

import (
	"math"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
)

// spot is a place in the window, CSS pixels.
type spot struct{ X, Y float64 }

// box is where an element is in the window, CSS pixels.
type box struct{ Left, Top, Width, Height float64 }

func (b box) at(share float64) spot { return spot{b.Left + share*b.Width, b.Top + b.Height/2} }

// boxOf scrolls an element into the middle of the window and says where it is.
func (b *browser) boxOf(t testing.TB, selector string) box {
	t.Helper()
	return evaluate[box](t, b, `(() => { const e = document.querySelector("`+selector+`"); e.scrollIntoView({block: "center", behavior: "instant"});
		const r = e.getBoundingClientRect(); return {Left: r.left, Top: r.top, Width: r.width, Height: r.height}; })()`)
}

// strokes is how many steps a finger or a mouse takes on its way.
const strokes = 8

// mouseDrag presses the left button at one place and lets go at another.
func (b *browser) mouseDrag(t testing.TB, from, to spot) {
	t.Helper()
	send := func(kind input.DispatchMouseEventType, at spot) {
		command(t, b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at.X, Y: at.Y, Button: input.MouseButtonLeft, Buttons: 1, ClickCount: 1})
	}
	send(input.DispatchMouseEventTypeMousePressed, from)
	for i := range strokes {
		send(input.DispatchMouseEventTypeMouseMoved, between(from, to, i))
	}
	send(input.DispatchMouseEventTypeMouseReleased, to)
}

// wheel turns the wheel. The protocol wants both ways told, and the library
// leaves out what is nought.
func (b *browser) wheel(t testing.TB, at spot, deltaX, deltaY float64) {
	t.Helper()
	const hair = 1e-3
	deltaX, deltaY = deltaX+hair, deltaY+hair
	command(t, b, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: at.X, Y: at.Y, DeltaX: deltaX, DeltaY: deltaY})
}

// between is the place after a step of the way from one to another.
func between(from, to spot, step int) spot {
	share := float64(step+1) / strokes
	return spot{from.X + share*(to.X-from.X), from.Y + share*(to.Y-from.Y)}
}

// touchDrag puts one finger down for each path and moves them together.
func (b *browser) touchDrag(t testing.TB, paths ...[2]spot) {
	t.Helper()
	send := func(kind input.DispatchTouchEventType, places ...spot) {
		points := []*input.TouchPoint{}
		for i, p := range places {
			id := float64(i)
			points = append(points, &input.TouchPoint{X: p.X, Y: p.Y, ID: &id})
		}
		command(t, b, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points})
	}
	fingers := func(at func([2]spot) spot) []spot { return mapped(paths, at) }
	send(input.DispatchTouchEventTypeTouchStart, fingers(func(p [2]spot) spot { return p[0] })...)
	for i := range strokes {
		send(input.DispatchTouchEventTypeTouchMove, fingers(func(p [2]spot) spot { return between(p[0], p[1], i) })...)
	}
	send(input.DispatchTouchEventTypeTouchEnd)
}

// touchScreen makes the browser one with fingers on it.
func (b *browser) touchScreen(t testing.TB) {
	t.Helper()
	points := int64(2)
	command(t, b, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true, MaxTouchPoints: points})
}

// askedFor waits until the page's address is another than it was and stays so
// for a second, and returns the piece of history that it asks for.
func (b *browser) askedFor(t testing.TB, before string) (search string, from, to time.Time) {
	t.Helper()
	search = before
	since, deadline := time.Now(), time.Now().Add(20*time.Second)
	for ; search == before || time.Since(since) < time.Second; time.Sleep(50 * time.Millisecond) {
		if now := evaluate[string](t, b, `location.search`); now != search {
			search, since = now, time.Now()
		}
		if time.Now().After(deadline) {
			t.Fatalf("the address stays %q", before)
		}
	}
	query, err := url.ParseQuery(strings.TrimPrefix(search, "?"))
	if err != nil {
		t.Fatal(err)
	}
	w := windowOf(query, time.Now())
	return search, w.from, w.to
}

// lastRead is the newest question for a room's readings.
func (b *browser) lastRead(t testing.TB) url.Values {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, asked := range slices.Backward(b.requests) {
		if at, err := url.Parse(asked); err == nil && strings.HasSuffix(at.Path, "/history") {
			return at.Query()
		}
	}
	t.Fatal("no readings were asked for")
	return nil
}

// Each way of moving the chart changes how much of the history is shown and
// which: the address, the readings asked for and the rows of the table.
func TestBrowserMovesTheChartByHand(t *testing.T) {
	needChartLibrary(t)
	b := startBrowser(t)
	home := serve(t, newHouse(backRoom(evening)))
	b.touchScreen(t)
	b.open(t, home+"/room/back-room?from="+unix(evening.AddDate(0, 0, -3))+"&to="+unix(evening.AddDate(0, 0, -2)), 390, "light")
	b.drawn(t)
	search := evaluate[string](t, b, `location.search`)
	from, to := evening.AddDate(0, 0, -3), evening.AddDate(0, 0, -2)
	finger := func(p box, start, end float64) [2]spot { return [2]spot{p.at(start), p.at(end)} }
	for _, c := range []struct {
		name      string
		do        func(p box)
		zoom, pan float64 // of the length as it was; of the new length, later
	}{
		{"the wheel, away", func(p box) { b.wheel(t, p.at(0.5), 0, -120) }, 0.8, 0},
		{"the wheel, towards", func(p box) { b.wheel(t, p.at(0.5), 0, 120) }, 1.25, 0},
		{"the wheel, sideways", func(p box) { b.wheel(t, p.at(0.5), -p.Width/4, 0) }, 1, -0.25},
		{"the mouse to the right", func(p box) { b.mouseDrag(t, p.at(0.3), p.at(0.7)) }, 1, -0.4},
		{"the mouse to the left", func(p box) { b.mouseDrag(t, p.at(0.7), p.at(0.5)) }, 1, 0.2},
		{"one finger to the right", func(p box) { b.touchDrag(t, finger(p, 0.3, 0.6)) }, 1, -0.3},
		{"two fingers apart", func(p box) { b.touchDrag(t, finger(p, 0.4, 0.25), finger(p, 0.6, 0.75)) }, 0.4, 0},
		{"two fingers together", func(p box) { b.touchDrag(t, finger(p, 0.2, 0.4), finger(p, 0.8, 0.6)) }, 3, 0},
	} {
		rows := evaluate[string](t, b, `document.querySelector("#history-table tbody").textContent`)
		c.do(b.boxOf(t, ".u-over"))
		var newFrom, newTo time.Time
		search, newFrom, newTo = b.askedFor(t, search)
		length := newTo.Sub(newFrom).Seconds()
		if got := length / to.Sub(from).Seconds(); math.Abs(got/c.zoom-1) > 0.08 {
			t.Errorf("%s: what is shown became %.2f as long, want %.2f", c.name, got, c.zoom)
		}
		moved := newFrom.Add(newTo.Sub(newFrom)/2).Sub(from.Add(to.Sub(from)/2)).Seconds() / length
		if math.Abs(moved-c.pan) > 0.05 {
			t.Errorf("%s: it moved by %.2f of its length, want %.2f", c.name, moved, c.pan)
		}
		if read := b.lastRead(t); read.Get("from") != unix(newFrom) || read.Get("to") != unix(newTo) {
			t.Errorf("%s: the readings asked for are %v, the page shows %v to %v", c.name, read, newFrom, newTo)
		}
		if now := evaluate[string](t, b, `document.querySelector("#history-table tbody").textContent`); now == rows || now == "" {
			t.Errorf("%s: the table still says the same", c.name)
		}
		from, to = newFrom, newTo
	}
	b.open(t, home+"/room/back-room"+search, 390, "light")
	b.text(t, evaluate[string](t, b, `document.getElementById("shown").textContent.trim()`))
	b.quiet(t, home)
}
