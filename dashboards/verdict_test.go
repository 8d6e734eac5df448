package dashboards

import (
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/sensors"
)

var shopWords = words{location: shopZone}

// projected is a margin every half hour from the evening on.
func projected(kelvins ...sensors.Kelvins) []room.MarginPoint {
	var out []room.MarginPoint
	for i, k := range kelvins {
		out = append(out, room.MarginPoint{
			At: evening.Add(time.Duration(i) * 30 * time.Minute), Margin: k, Low: k - 1, High: k + 1, Known: true, Projected: true,
		})
	}
	return out
}

func TestFallsUnder(t *testing.T) {
	gap := projected(5, 4, 2)
	gap[1].Known = false
	for name, c := range map[string]struct {
		points []room.MarginPoint
		want   time.Duration // after the evening, -1 for never
	}{
		"between two points":    {projected(5, 4, 2), 45 * time.Minute},
		"at the first point":    {projected(2, 1), 0},
		"touching is not under": {projected(4, 3, 4), -1},
		"never":                 {projected(5, 5, 5), -1},
		"nothing projected":     {nil, -1},
		"across a gap":          {gap, 40 * time.Minute},
	} {
		at, ok := fallsUnder(c.points, 3, evening)
		if ok != (c.want >= 0) || ok && at.Sub(evening) != c.want {
			t.Errorf("%s: %v after the evening (%v), want %v", name, at.Sub(evening), ok, c.want)
		}
	}
}

func TestRisesOverOnlyWhenItStays(t *testing.T) {
	for name, c := range map[string]struct {
		points []room.MarginPoint
		want   time.Duration
	}{
		"stays":                    {projected(1, 2, 4, 5, 6), 45 * time.Minute},
		"half an hour, then stays": {projected(2, 4, 2, 4, 4, 4), 75 * time.Minute},
		"only half an hour":        {projected(2, 4, 4), -1},
		"never":                    {projected(1, 1, 1), -1},
	} {
		at, ok := risesOver(c.points, 3, evening)
		if ok != (c.want >= 0) || ok && at.Sub(evening) != c.want {
			t.Errorf("%s: %v after the evening (%v), want %v", name, at.Sub(evening), ok, c.want)
		}
	}
}

func TestHeadlineAndOutlook(t *testing.T) {
	margin := drying.Reason{Code: "dew-margin", Text: "The dew margin is 2.1 K; it must be 3 K."}
	cold := drying.Reason{Code: "air-cold", Text: "The air is 9 °C; the label asks for 10 °C."}
	for name, c := range map[string]struct {
		state             drying.State
		reasons           []drying.Reason
		points            []room.MarginPoint
		headline, outlook string
	}{
		"fit, then not":              {drying.Fit, nil, projected(6, 5, 4, 3.5, 2.5), "Fit to coat, until about 23:15", "The dew margin likely falls under 3 K about 23:15."},
		"fit, perhaps not":           {drying.Fit, nil, projected(6, 5, 3.5, 3.5), "Fit to coat", "The dew margin likely stays over 3 K, but may fall under it from about 22:30."},
		"fit all along":              {drying.Fit, nil, projected(6, 6, 6), "Fit to coat", "The dew margin likely stays over 3 K at least until 22:40, as far as is looked ahead."},
		"fit, no projection":         {drying.Fit, nil, nil, "Fit to coat", ""},
		"caution":                    {drying.Caution, []drying.Reason{margin}, nil, "Wait if you can: the dew margin is 2.1 K; it must be 3 K", ""},
		"unfit, better later":        {drying.Unfit, []drying.Reason{margin}, projected(2, 2, 4, 5, 6), "Not fit: the dew margin is 2.1 K; it must be 3 K", "The dew margin is likely back over 3 K from about 22:30."},
		"unfit, and cold besides":    {drying.Unfit, []drying.Reason{margin, cold}, projected(2, 2, 4, 5, 6), "Not fit: the dew margin is 2.1 K; it must be 3 K", ""},
		"unknown is never fit":       {drying.Unknown, nil, projected(6, 6, 6), "No verdict: the room is not being measured", ""},
		"a state of another version": {drying.State(9), nil, nil, "No verdict: the room is not being measured", ""},
	} {
		s := room.Snapshot{Verdict: drying.Verdict{State: c.state, Reasons: c.reasons}, Margin: c.points, Limit: 3}
		if got := shopWords.headline(s, evening); got != c.headline {
			t.Errorf("%s: headline %q, want %q", name, got, c.headline)
		}
		if got := shopWords.outlook(s, evening); got != c.outlook {
			t.Errorf("%s: outlook %q, want %q", name, got, c.outlook)
		}
	}
}

// What is projected beyond the strip of time is not told as tonight's.
func TestVerdictLooksNoFurtherThanTheStrip(t *testing.T) {
	points := append(projected(6, 6, 6), room.MarginPoint{At: evening.Add(20 * time.Hour), Margin: 1, Known: true, Projected: true})
	s := room.Snapshot{Verdict: drying.Verdict{State: drying.Fit}, Margin: points, Limit: 3}
	if v := shopWords.verdict(s, evening); v.Headline != "Fit to coat" || v.Outlook != "The dew margin likely stays over 3 K at least until 22:40, as far as is looked ahead." {
		t.Errorf("%q, %q", v.Headline, v.Outlook)
	}
}

func TestNearestDewIsTheLeastMargin(t *testing.T) {
	got, ok := nearestDew([]room.SurfaceNow{{Label: "a", Margin: 4}, {Label: "b", Margin: -1}, {Label: "c", Margin: 2}})
	if !ok || got.Label != "b" {
		t.Errorf("got %q", got.Label)
	}
	if _, ok := nearestDew(nil); ok {
		t.Error("a surface out of none")
	}
}

// A fit room alone is no leave to coat a part in it.
func TestVerdictSaysWhenTheFirstPartIsReady(t *testing.T) {
	s := twoCoats(evening)
	v := shopWords.verdict(s, evening)
	if !strings.HasPrefix(v.Parts, "No part drying here can take its next coat before ") {
		t.Errorf("%q", v.Parts)
	}
	for i := range s.Coats[0].Estimates {
		if e := &s.Coats[0].Estimates[i]; e.Stage == drying.DryToRecoat {
			e.Reached = true
		}
	}
	if v := shopWords.verdict(s, evening); v.Parts != "" {
		t.Errorf("one part is ready, and it says %q", v.Parts)
	}
}
