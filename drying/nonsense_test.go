package drying

import (
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

// Whatever the sensors or the label say: it is named, what it does to the time
// is bounded, and no time is given with more confidence than without it.
func TestNonsense(t *testing.T) {
	good := room(21, 55)
	bad := func(change func(*Conditions)) []Sample {
		all := steady(good, noon, 5*time.Hour)
		for i := 30; i < len(all); i++ {
			change(&all[i].Conditions)
		}
		return all
	}
	backwards := func() []Sample {
		all := steady(good, noon, 5*time.Hour)
		for i := 100; i < 200; i++ {
			all[i].At = all[i].At.Add(-time.Hour - 7*time.Second) // the clock was set back and forth
		}
		return all
	}
	short := acrylic()
	short.Product.Stated.Times[Cured] = time.Hour
	gap := append(steady(good, noon, 30*time.Minute), steady(good, noon.Add(day), 5*time.Minute)...)
	for _, c := range []struct {
		name    string
		coat    Coat
		samples []Sample
		code    string
		timed   bool // a time can be given
	}{
		{"no humidity at all", acrylic(), bad(func(c *Conditions) { c.Humidity = 0 }), "humidity-zero", false},
		{"exactly 100 % for hours", acrylic(), bad(func(c *Conditions) { c.Humidity = 100 }), "humidity-stuck", false},
		{"a surface at 85 °C", acrylic(), bad(func(c *Conditions) { c.Surface = 85 }), "surface-range", false},
		{"a gale", acrylic(), bad(func(c *Conditions) { c.AirSpeed = 500 }), "air-speed-range", false},
		{"air at 500 °C", acrylic(), bad(func(c *Conditions) { c.Air = 500 }), "unknown", false},
		{"a cure shorter than the recoat", short, steady(good, noon, 5*time.Hour), "product", false},
		{"a gap of a day", acrylic(), gap, "gap", true},
		{"time that goes backwards", acrylic(), backwards(), "out-of-order", true},
	} {
		now := c.samples[len(c.samples)-1].At.Add(time.Minute)
		e := Follow(c.coat, c.samples, now, nil)[Handle]
		if !slices.ContainsFunc(append(e.Blocked, e.Doubts...), func(r Reason) bool { return r.Code == c.code && r.Text != "" }) {
			t.Errorf("%s: got %v and %v, want it named %q", c.name, e.Blocked, e.Doubts, c.code)
		}
		if timed := !e.Likely.IsZero(); timed != c.timed {
			t.Errorf("%s: likely %v, want a time: %v", c.name, e.Likely, c.timed)
		}
		honest := Follow(c.coat, steady(good, noon, now.Sub(noon)), now, nil)[Handle]
		if e.Done > honest.Done+1e-9 {
			t.Errorf("%s: done %.3f, more than %.3f with good readings", c.name, e.Done, honest.Done)
		}
		if c.timed && (e.High.Before(honest.High) || e.High.Sub(e.Low) < honest.High.Sub(honest.Low)) {
			t.Errorf("%s: %v to %v, surer than %v to %v with good readings", c.name, e.Low, e.High, honest.Low, honest.High)
		}
	}
}

// A sensor at its stop counts as damp air for an hour and as none from then on;
// once it speaks again the clock goes on, and the gap is in Low.
func TestStuckHumidity(t *testing.T) {
	good, full := room(21, 55), room(21, 100)
	samples := append(steady(good, noon, 30*time.Minute), steady(full, noon.Add(30*time.Minute), 3*time.Hour)...)
	at := func(after time.Duration) Estimate {
		return Follow(acrylic(), samples, noon.Add(after), nil)[Handle]
	}
	if e := at(80 * time.Minute); !blockedBy(e, "humid") || e.Uncovered != 0 {
		t.Errorf("after 50 minutes: got %+v, want it taken for damp air", e)
	}
	if e := at(3 * time.Hour); !blockedBy(e, "humidity-stuck") || e.Uncovered != 90*time.Minute || !e.Blocked[0].Since.Equal(noon.Add(90*time.Minute)) {
		t.Errorf("after two and a half hours: got %+v, want it unknown since an hour in", e)
	}
	samples = append(samples, steady(good, noon.Add(210*time.Minute), 30*time.Minute)...)
	e := at(4 * time.Hour)
	if len(e.Blocked) != 0 || e.Uncovered != 2*time.Hour || e.Likely.IsZero() {
		t.Errorf("once it moves again: got %+v, want the clock to run", e)
	}
	damp := slices.Clone(samples)
	for i := range damp {
		damp[i].Humidity = min(damp[i].Humidity, 99.9)
	}
	if known := Follow(acrylic(), damp, noon.Add(4*time.Hour), nil)[Handle]; !e.Low.Before(known.Low) || known.Uncovered != 0 {
		t.Errorf("low %v, at 99.9 %% %v: a sensor that moves is believed", e.Low, known.Low)
	}
	// A deadline is not put off by a sensor at its stop.
	coat := acrylic()
	coat.Product.Stated.RecoatBy = 10 * time.Hour
	stuck, moving := Window(coat, samples, noon.Add(4*time.Hour), nil), Window(coat, damp, noon.Add(4*time.Hour), nil)
	if !stuck.Likely.Before(moving.Likely) || stuck.Likely.IsZero() {
		t.Errorf("the window closes at %v, where the sensor moves at %v", stuck.Likely, moving.Likely)
	}
}

// Nonsense is never judged fit.
func TestNonsenseIsNeverFit(t *testing.T) {
	for code, c := range map[string]Conditions{
		"humidity-zero": room(21, 0), "surface-range": {Air: 21, Humidity: 50, Surface: 85},
		"air-speed-range": {Air: 21, Humidity: 50, Surface: 21, AirSpeed: 21}, "unknown": room(21, 101),
	} {
		if v := JudgeRoom(c, Uncertainty{}, DefaultLimits()); v.State != Unknown || codes(v) != code {
			t.Errorf("%+v: got %s for %q, want unknown for %q", c, v.State, codes(v), code)
		}
	}
	if v := JudgeRoom(room(21, 100), Uncertainty{}, DefaultLimits()); v.State != Unfit || !strings.Contains(codes(v), "humid") {
		t.Errorf("100 %%: got %s for %q, want unfit", v.State, codes(v))
	}
}

// A record of sensors that break and mend: always an answer with a bound.
func TestEstimatesAreBounded(t *testing.T) {
	for _, c := range []Conditions{room(21, 0), room(21, 100), {Air: 21, Humidity: 50, Surface: 85}, room(sensors.Celsius(-60), 50)} {
		samples := steady(room(20, 50), noon, time.Hour)
		for i := 20; i < 40; i++ {
			samples[i].Conditions = c
		}
		for _, e := range Follow(acrylic(), samples, noon.Add(time.Hour), nil) {
			if e.Likely.IsZero() || e.Low.After(e.Likely) || e.High.Before(e.Likely) || e.Done < 0 || e.Done > 1 {
				t.Errorf("%+v for twenty minutes: got %+v", c, e)
			}
		}
	}
}
