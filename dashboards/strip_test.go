package dashboards

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // a shop's zone on a machine without one

	"recoat/drying"
	"recoat/internal/room"
)

func TestStripEndsAtTomorrowsNoon(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for now, want := range map[string]string{
		"2026-03-10 21:40": "2026-03-11 12:00",
		"2026-03-10 09:00": "2026-03-11 12:00",
		"2026-03-11 01:30": "2026-03-11 12:00", // still last night
		"2026-03-11 04:00": "2026-03-12 12:00",
		"2026-03-28 22:00": "2026-03-29 12:00", // an hour is skipped that night
		"2026-10-24 22:00": "2026-10-25 12:00", // an hour comes twice that night
		"2026-12-31 23:00": "2027-01-01 12:00",
	} {
		at, err := time.ParseInLocation("2006-01-02 15:04", now, berlin)
		if err != nil {
			t.Fatal(err)
		}
		a := tonightAxis(at, berlin)
		if got := a.to.In(berlin).Format("2006-01-02 15:04"); got != want {
			t.Errorf("at %s the strip ends %s, want %s", now, got, want)
		}
		for _, k := range a.ticks(at) {
			if d := math.Abs(middleOf(place(t, k.X)) - middleOf(a.at(at))); k.Text != "" && d < 12 {
				t.Errorf("at %s the label %s stands %.1f %% of the strip from the clock", now, k.Text, d)
			}
		}
		last := -1.0
		for _, k := range a.ticks() {
			x := place(t, k.X)
			if x <= last || x > 100 {
				t.Errorf("at %s a tick stands at %v after %v", now, x, last)
			}
			last = x
		}
	}
}

// place reads an SVG percentage.
func place(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSuffix(text, "%"), 64)
	if err != nil || !strings.HasSuffix(text, "%") {
		t.Fatalf("%q is no percentage", text)
	}
	return v
}

func TestBarIsSolidThenHatchedWithATick(t *testing.T) {
	a := axis{from: evening, to: evening.Add(10 * time.Hour), now: evening.Add(2 * time.Hour), location: shopZone}
	c := room.CoatNow{ID: "c-1", Piece: "Stool", Applied: evening.Add(time.Hour), Pace: 1, Estimates: []drying.Estimate{{
		Stage: drying.Sandable, Low: evening.Add(4 * time.Hour), Likely: evening.Add(5 * time.Hour), High: evening.Add(7 * time.Hour),
	}}}
	b := shopWords.bar(a, c)
	want := map[string]float64{b.From: 10, b.Solid: 30, b.HatchAt: 40, b.Hatch: 30, b.Tick: 50}
	for got, v := range want {
		if place(t, got) != v {
			t.Errorf("got %s, want %v %% in %+v", got, v, b)
		}
	}
	if b.Label != "sand 02:40" || b.Anchor != "middle" || b.Still || b.Beyond {
		t.Errorf("%+v", b)
	}
}

func TestBarsThatDoNotEndOnTheStrip(t *testing.T) {
	a := tonightAxis(evening, shopZone)
	far := room.CoatNow{Piece: "Stool", Applied: evening, Estimates: []drying.Estimate{{
		Stage: drying.Handle, Low: evening.Add(40 * time.Hour), Likely: evening.Add(50 * time.Hour), High: evening.Add(60 * time.Hour),
	}}}
	if b := shopWords.bar(a, far); !b.Beyond || b.Tick != "" || b.Label != "handle Thu 23:40" {
		t.Errorf("far off: %+v", b)
	}
	still := far
	still.Estimates = []drying.Estimate{{Stage: drying.Handle}}
	if b := shopWords.bar(a, still); !b.Still || b.Label != "" {
		t.Errorf("standing still: %+v", b)
	}
	done := far
	done.Next = -1
	if b := shopWords.bar(a, done); b.Detail != "Nothing left to wait for." {
		t.Errorf("nothing left: %+v", b)
	}
	reached := far
	reached.Estimates = []drying.Estimate{{Stage: drying.DryToRecoat, Reached: true, Likely: evening.Add(-time.Hour)}}
	reached.Applied = evening.Add(-90 * time.Minute)
	if b := shopWords.bar(a, reached); b.Hatch != "" || b.Detail != "Dry to recoat since 20:40 by the model; touch decides." {
		t.Errorf("reached: %+v", b)
	}
}

func TestBandBreaksAtGapsAndJoinsTheProjection(t *testing.T) {
	a := tonightAxis(evening, shopZone)
	s := backRoom(evening)
	b := shopWords.band(a, s)
	if strings.Count(b.Past, "M") != 1 || strings.Count(b.Ahead, "M") != 1 || !strings.HasSuffix(b.Spread, "Z") {
		t.Errorf("past %q\nahead %q\nspread %q", b.Past, b.Ahead, b.Spread)
	}
	pastEnd := b.Past[strings.LastIndex(b.Past, "L")+1:]
	if !strings.HasPrefix(b.Ahead, "M"+pastEnd) {
		t.Errorf("the projection starts at %.12s, the measured line ends at %s", b.Ahead, pastEnd)
	}
	s.Margin[4].Known = false
	if b := shopWords.band(a, s); strings.Count(b.Past, "M") != 2 {
		t.Errorf("a gap is drawn over: %q", b.Past)
	}
	if b := shopWords.band(a, room.Snapshot{Margin: []room.MarginPoint{{At: evening}}}); b != nil {
		t.Error("a band of nothing")
	}
	if got := shopWords.band(a, silentRoom(evening)).Gap; got == "" {
		t.Error("the night that is not known is not named")
	}
}

func TestBandScaleHoldsWhatItDraws(t *testing.T) {
	a := tonightAxis(evening, shopZone)
	for name, s := range map[string]room.Snapshot{"fit": backRoom(evening), "damp": dampRoom(evening)} {
		b := shopWords.band(a, s)
		for _, path := range []string{b.Past, b.Ahead, b.Spread} {
			for _, pair := range strings.FieldsFunc(path, func(r rune) bool { return strings.ContainsRune("MLZ", r) }) {
				_, y, _ := strings.Cut(pair, " ")
				if v, err := strconv.ParseFloat(y, 64); err != nil || v < 0 || v > bandHeight {
					t.Errorf("%s: %q leaves the band", name, pair)
				}
			}
		}
	}
}

// TestSVGIsWellFormed reads each drawing as XML, which is stricter than a
// browser is.
func TestSVGIsWellFormed(t *testing.T) {
	h := handler(newHouse(twoCoats(evening), dampRoom(evening)), Book{})
	for _, target := range []string{"/", "/room/back-room?span=1w"} {
		page := get(h, target).Body.String()
		drawings := 0
		for {
			_, rest, found := strings.Cut(page, "<svg")
			if !found {
				break
			}
			d := xml.NewDecoder(strings.NewReader("<svg" + rest))
			if err := skipElement(d); err != nil {
				t.Fatalf("%s: %v in %.200s", target, err, rest)
			}
			drawings++
			page = rest
		}
		if drawings < 4 {
			t.Errorf("%s holds %d drawings", target, drawings)
		}
	}
}

func skipElement(d *xml.Decoder) error {
	if _, err := d.Token(); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	return d.Skip()
}

func TestStepsAreInOrder(t *testing.T) {
	steps := shopWords.nextSteps(twoCoats(evening), nil, evening)
	var when []string
	for _, s := range steps {
		when = append(when, s.When)
	}
	if got, want := strings.Join(when, ", "), "00:45, 03:25, 07:05, Fri 20:40"; got != want {
		t.Errorf("steps at %s, want %s", got, want)
	}
	closed := twoCoats(evening)
	closed.Coats[0].RecoatBy = evening.Add(-time.Hour)
	if s := shopWords.nextSteps(closed, nil, evening)[0]; s.When != "now" || !strings.HasSuffix(s.What, "abrade before the next coat") {
		t.Errorf("a closed recoat window: %+v", s)
	}
}
