package simroom

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

func record(t testing.TB, cfg Config, span, every time.Duration) []Truth {
	t.Helper()
	var trace []Truth
	err := Record(cfg, start, span, every, func(at time.Time, truth Truth) {
		if !truth.At.Equal(at) {
			t.Fatalf("the truth of %v came at %v", truth.At, at)
		}
		trace = append(trace, truth)
	})
	if err != nil {
		t.Fatal(err)
	}
	return trace
}

func seeded(name string, seed uint64) Config {
	cfg, err := Preset(name)
	if err != nil {
		panic(err)
	}
	cfg.Seed = seed
	return cfg
}

func TestSeedMakesTheTrace(t *testing.T) {
	first := record(t, seeded("back-room", 7), 3*day, 10*time.Minute)
	if again := record(t, seeded("back-room", 7), 3*day, 10*time.Minute); !reflect.DeepEqual(first, again) {
		t.Error("the same seed gave another trace")
	}
	if other := record(t, seeded("back-room", 8), 3*day, 10*time.Minute); reflect.DeepEqual(first, other) {
		t.Error("another seed gave the same trace")
	}
}

// The tolerance is nothing at all: time is kept until it fills an inner step.
func TestDivisionOfStepsDoesNotMatter(t *testing.T) {
	whole, parts := newRoom(t, seeded("stove-shop", 7)), newRoom(t, seeded("stove-shop", 7))
	whole.Step(day)
	odd := []time.Duration{time.Second, 7 * time.Second, 13 * time.Minute, 1500 * time.Millisecond, -time.Hour}
	var gone time.Duration
	for i := 0; gone < day; i++ {
		dt := min(odd[i%len(odd)], day-gone)
		parts.Step(dt)
		gone += max(dt, 0)
	}
	if a, b := whole.Truth(), parts.Truth(); !reflect.DeepEqual(a, b) {
		t.Errorf("in one step %+v, in many %+v", a, b)
	}
}

// Two winter weeks of every preset stay inside what a room can be, and inside
// what that room should be.
func TestPresetsAreRooms(t *testing.T) {
	for _, cfg := range Presets() {
		cfg.Seed = 1
		var coldest, warmest sensors.Celsius = 100, -100
		for _, x := range record(t, cfg, 14*day, 5*time.Minute) {
			if !(x.Humidity > 0 && x.Humidity <= 100) || !(x.DewPoint <= x.Air+0.001) || math.IsNaN(float64(x.Air)) {
				t.Fatalf("%s: %+v", cfg.Name, x)
			}
			for _, p := range x.Pieces {
				if !(math.Abs(float64(p.Surface.Sub(x.Air))) < 15) || !(p.Water >= 0) {
					t.Fatalf("%s: piece %+v in air at %v", cfg.Name, p, x.Air)
				}
			}
			coldest, warmest = min(coldest, x.Air), max(warmest, x.Air)
		}
		if coldest < -8 || warmest > 26 {
			t.Errorf("%s: %.1f to %.1f °C in January", cfg.Name, coldest, warmest)
		}
	}
}

// mean of f over the truths that count.
func mean(trace []Truth, counts func(Truth) bool, f func(Truth) float64) float64 {
	sum, n := 0.0, 0
	for _, x := range trace {
		if counts(x) {
			sum, n = sum+f(x), n+1
		}
	}
	return sum / float64(n)
}

func TestPresetsDiffer(t *testing.T) {
	const span = 14 * day
	garage := record(t, seeded("garage", 4), span, 10*time.Minute)
	back := record(t, seeded("back-room", 4), span, 10*time.Minute)
	stove := record(t, seeded("stove-shop", 4), span, 10*time.Minute)
	always := func(Truth) bool { return true }
	damp := func(x Truth) float64 { return float64(x.Humidity) }
	if g, b := mean(garage, always, damp), mean(back, always, damp); g < b+15 || g < 75 {
		t.Errorf("the garage has %.0f %% and the back room %.0f %%: the garage should be damp", g, b)
	}
	warm := func(x Truth) float64 { return float64(x.Air) }
	afternoon := mean(stove, func(x Truth) bool { return x.Occupied && x.At.Hour() >= 14 }, warm)
	morning := mean(stove, func(x Truth) bool { return x.At.Hour() == 6 }, warm)
	if afternoon < morning+4 || afternoon < 15 {
		t.Errorf("the stove shop has %.1f °C in the afternoon and %.1f °C at six: the stove should go out at night", afternoon, morning)
	}
	evening := mean(back, func(x Truth) bool { return x.At.Hour() == 20 }, warm)
	near(t, "the back room in the evening", evening, 19.5, 1)
}

// A coat of the configuration goes on at its time and shows on its piece alone.
func TestRecordPutsCoatsOn(t *testing.T) {
	cfg := seeded("back-room", 4)
	cfg.Coats = []Coat{{After: 2 * time.Hour, Piece: "table top", Water: 0.06}}
	trace := record(t, cfg, 5*time.Hour, time.Minute)
	before, wet, dry := trace[119].Pieces[1], trace[121].Pieces[1], trace[300].Pieces[1]
	if before.Water != 0 || wet.Water < 0.05 || dry.Water > 0 {
		t.Errorf("water before %g, just after %g, three hours after %g kg/m²", before.Water, wet.Water, dry.Water)
	}
	if fall := before.Surface.Sub(trace[130].Pieces[1].Surface); fall < 0.5 {
		t.Errorf("the wet surface cooled by %.2f K: more would be right", fall)
	}
	if other := trace[121].Pieces[0]; other.Water != 0 {
		t.Errorf("the coat also wetted %+v", other)
	}
}

func TestRecordRefuses(t *testing.T) {
	none := func(time.Time, Truth) { t.Error("a refused record began") }
	for _, every := range []time.Duration{0, time.Second, 25 * time.Second} {
		if err := Record(plain(), start, day, every, none); err == nil || !strings.Contains(err.Error(), "multiple") {
			t.Errorf("every %v: %v", every, err)
		}
	}
	if err := Record(Config{}, start, day, time.Minute, none); err == nil {
		t.Error("a room without volume was recorded")
	}
	if _, err := Preset("attic"); err == nil || !strings.Contains(err.Error(), "back-room, stove-shop, garage") {
		t.Errorf("an unknown preset: %v", err)
	}
}

func BenchmarkDay(b *testing.B) {
	r := newRoom(b, seeded("stove-shop", 1))
	for b.Loop() {
		r.Step(day)
	}
}
