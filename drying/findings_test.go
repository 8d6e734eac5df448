package drying

import (
	"testing"
	"time"

	"recoat/sensors"
)

// night is an evening that goes well, a damp hour, a cold piece, and a morning.
func night() []Sample {
	good, damp := room(20, 55), room(20, 90)
	wet := room(20, 60)
	wet.Surface = 11 // the dew point is 12.0 °C
	var all []Sample
	for _, part := range []struct {
		c    Conditions
		from time.Duration
	}{{good, 0}, {damp, 30 * time.Minute}, {wet, 90 * time.Minute}, {good, 120 * time.Minute}, {damp, 24 * time.Hour}} {
		all = append(all, steady(part.c, noon.Add(part.from), 30*time.Minute)...)
	}
	return all
}

func find(t *testing.T, all []Finding, code string) Finding {
	t.Helper()
	var found []Finding
	for _, f := range all {
		if f.Code == code {
			found = append(found, f)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%s: got %d findings in %+v, want one", code, len(found), all)
	}
	return found[0]
}

func TestFindings(t *testing.T) {
	all := Findings(acrylic(), night())
	wet := find(t, all, "condensation")
	if !wet.From.Equal(noon.Add(90*time.Minute)) || !wet.To.Equal(noon.Add(120*time.Minute)) {
		t.Errorf("condensation: got %v to %v", wet.From, wet.To)
	}
	near(t, "worst margin", wet.Worst.Value, 11-12.01, 0.01)
	var stalls []Finding
	for _, f := range all {
		if f.Code == "stalled" {
			stalls = append(stalls, f)
		}
	}
	if len(stalls) != 3 || stalls[0].Worst.Code != "dew-margin" || !stalls[0].From.Equal(noon.Add(30*time.Minute)) {
		t.Errorf("stalls: got %+v, want three: damp, cold, and damp the day after", stalls)
	}
}

func TestFindingsOfEachKind(t *testing.T) {
	lacquer := Coat{Product: label(Solvent, "lacquer", time.Hour), Applied: noon}
	blush := find(t, Findings(lacquer, steady(room(22, 62), noon, 3*time.Hour)), "blush")
	if got := blush.To.Sub(blush.From); got < time.Hour || got > 90*time.Minute {
		t.Errorf("blush lasts %v: want until the coat is dry to recoat, not for three hours", got)
	}
	cold := room(12, 20)
	cold.Surface = 8.5
	if got := find(t, Findings(acrylic(), steady(cold, noon, time.Hour)), "film-cold"); !got.From.Equal(noon) {
		t.Errorf("film-cold: from %v, want %v", got.From, noon)
	}
	if got := Findings(acrylic(), steady(room(21, 50), noon, 5*time.Hour)); len(got) != 0 {
		t.Errorf("a good night: got %+v", got)
	}
	if got := Findings(acrylic(), nil); got != nil {
		t.Errorf("without readings: got %+v", got)
	}
	if got := Findings(Coat{}, night()); got != nil {
		t.Errorf("without a product: got %+v", got)
	}
}

// A reading that crosses a limit to and fro is one finding.
func TestFindingsJoin(t *testing.T) {
	var samples []Sample
	for m := range 60 {
		c := room(20, 86)
		if m%5 == 4 {
			c = room(20, 70)
		}
		samples = append(samples, Sample{noon.Add(time.Duration(m) * time.Minute), c})
	}
	got := find(t, Findings(acrylic(), samples), "stalled")
	if got.To.Sub(got.From) < 55*time.Minute {
		t.Errorf("got %v to %v, want the whole hour", got.From, got.To)
	}
}

func TestExposure(t *testing.T) {
	samples := night()
	got := Exposure(samples, DefaultLimits(), noon, noon.Add(3*time.Hour))
	// Half an hour each of good and damp, then a gap of half an hour of which
	// the last damp sample covers MaxGap less its own minute, and so on.
	if want := 2*time.Hour + 2*(MaxGap-time.Minute); got.Covered != want {
		t.Errorf("covered: got %v, want %v", got.Covered, want)
	}
	near(t, "lowest margin", float64(got.MinDewMargin), -1.01, 0.01)
	if !got.MinDewMarginAt.Equal(noon.Add(90 * time.Minute)) {
		t.Errorf("lowest margin at %v, want %v", got.MinDewMarginAt, noon.Add(90*time.Minute))
	}
	for _, o := range got.Outside {
		switch o.Code {
		case "humid":
			if want := 30*time.Minute + MaxGap - time.Minute; o.Duration != want || o.Worst != 90 || o.Limit != 85 {
				t.Errorf("humid: got %+v, want %v at 90 %%", o, want)
			}
		case "air-cold", "air-hot", "surface-cold", "surface-hot":
			if o.Duration != 0 || !o.Since.IsZero() {
				t.Errorf("%s: got %+v, want none", o.Code, o)
			}
		}
	}
	none := Exposure(nil, DefaultLimits(), noon, noon.Add(time.Hour))
	if none.Covered != 0 || !none.MinDewMarginAt.IsZero() || len(none.Outside) == 0 {
		t.Errorf("without readings: got %+v", none)
	}
	broken := []Sample{{At: noon, Conditions: Conditions{Air: 20, Humidity: sensors.RelativeHumidity(140)}}}
	if bad := Exposure(broken, DefaultLimits(), noon, noon.Add(time.Hour)); bad.Covered != 0 {
		t.Errorf("a reading that cannot be: got %+v, want nothing covered", bad)
	}
}
