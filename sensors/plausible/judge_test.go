package plausible

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

var (
	air     = sensors.Channel{Quantity: sensors.AirTemperature}
	damp    = sensors.Channel{Quantity: sensors.AirHumidity}
	damp2   = sensors.Channel{Quantity: sensors.AirHumidity, Probe: "1-0044"}
	surface = sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-1"}
)

func judge(t *testing.T, c Config) *Judge {
	t.Helper()
	j, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// qualities shows values of one channel, one every step, and returns a letter for
// each: g for good, s for suspect, m for missing.
func qualities(j *Judge, c sensors.Channel, step time.Duration, values ...float64) string {
	letters := ""
	for i, v := range values {
		r := sensors.Reading{Channel: c, Value: v}
		if math.IsNaN(v) {
			r = sensors.Reading{Channel: c, Quality: sensors.Missing}
		}
		got := j.Check(time.Duration(i)*step, []sensors.Reading{r})
		letters += got[0].Quality.String()[:1]
	}
	return letters
}

func TestValuesThatARoomCannotReachInTheTime(t *testing.T) {
	none := math.NaN()
	table := []struct {
		name    string
		channel sensors.Channel
		step    time.Duration
		values  []float64
		want    string
	}{
		{"within 2 K", air, 2 * time.Second, []float64{20, 22, 20, 18}, "gggg"},
		{"a spike", air, 2 * time.Second, []float64{20, 22.1, 20, 20}, "gsgg"},
		{"two spikes that do not agree", air, 2 * time.Second, []float64{20, 40, 30, 20}, "gssg"},
		{"a new level", air, 2 * time.Second, []float64{20, 40, 40.1, 40.2, 40.3}, "gssgg"},
		{"a new level with a gap in it", air, 2 * time.Second, []float64{20, 40, none, 40, 40}, "gsmsg"},
		{"back before it counts", air, 2 * time.Second, []float64{20, 40, 40, 20, 40, 40, 20}, "gssgssg"},
		{"scaled by the interval", air, 10 * time.Second, []float64{20, 29, 20}, "ggg"},
		{"scaled no further than 10 K", air, time.Minute, []float64{20, 31, 20}, "gsg"},
		{"a humidity", damp, 2 * time.Second, []float64{50, 60, 70.5, 60}, "ggsg"},
		{"a short interval counts as 2 s", air, 200 * time.Millisecond, []float64{20, 21.9, 20}, "ggg"},
		{"the first counts", air, 2 * time.Second, []float64{-10, 20, -10}, "gsg"},
		{"a level long gone", air, 11 * time.Minute, []float64{20, 45}, "gg"},
		{"85 °C of a probe that restarted", surface, 2 * time.Second, []float64{14, 85, 14}, "gsg"},
		{"outside a workshop", air, 2 * time.Second, []float64{60, 60.5, 61, 60}, "gssg"},
		{"a humidity of nothing", damp, 2 * time.Second, []float64{8, 0, 8}, "gsg"},
	}
	for _, c := range table {
		if got := qualities(judge(t, Config{}), c.channel, c.step, c.values...); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestASensorThatIsStill(t *testing.T) {
	for c, allowed := range map[sensors.Channel]time.Duration{air: 30 * time.Minute, damp: 30 * time.Minute, surface: 4 * time.Hour} {
		j := judge(t, Config{})
		at := time.Duration(0)
		quality := func(v float64) sensors.Quality {
			return j.Check(at, []sensors.Reading{{Channel: c, Value: v}})[0].Quality
		}
		for ; at < allowed; at += 10 * time.Second {
			if q := quality(20.125); q != sensors.Good {
				t.Fatalf("%s: %s after %s", c, q, at)
			}
		}
		if q := quality(20.125); q != sensors.Suspect || !strings.Contains(j.Why()[c], "no longer measures") {
			t.Errorf("%s: %s after %s, because %q", c, q, at, j.Why()[c])
		}
		at += 10 * time.Second
		if q := quality(20.126); q != sensors.Good || j.Why()[c] != "" {
			t.Errorf("%s: %s once it moves, because %q", c, q, j.Why()[c])
		}
	}
}

func TestAHumidityAtTheEndOfItsScale(t *testing.T) {
	j := judge(t, Config{})
	rng := rand.New(rand.NewPCG(3, 3))
	for at := time.Duration(0); at <= 3*time.Hour; at += 10 * time.Second {
		v := 99.5 + rng.Float64()/2
		if at == 90*time.Minute {
			v = 99.4 // it comes off the end once
		}
		want := sensors.Good
		if at > time.Hour && at < 90*time.Minute || at > 150*time.Minute+10*time.Second {
			want = sensors.Suspect
		}
		if got := j.Check(at, []sensors.Reading{{Channel: damp, Value: v}})[0].Quality; got != want {
			t.Fatalf("%s after %s, want %s", got, at, want)
		}
	}
}

// Two chips 1.5 % apart from the start; from the second day on one of them drifts
// by 1 % a day.
func TestTwinsThatDriftApart(t *testing.T) {
	j := judge(t, Config{Twins: []Twin{{First: damp, Second: damp2, Limit: 3}}})
	rng := rand.New(rand.NewPCG(5, 5))
	const day = 24 * time.Hour
	doubted := time.Duration(0)
	for at := time.Duration(0); at < 6*day; at += time.Minute {
		room := 55 + 10*math.Sin(2*math.Pi*at.Hours()/24)
		drift := max(at.Hours()/24-1, 0)
		got := j.Check(at, []sensors.Reading{
			{Channel: damp, Value: room + 0.2*rng.NormFloat64()},
			{Channel: damp2, Value: room + 1.5 + drift + 0.2*rng.NormFloat64()},
		})
		if got[0].Quality != got[1].Quality {
			t.Fatalf("after %s one is %s, the other %s: neither says which drifts", at, got[0].Quality, got[1].Quality)
		}
		if doubted == 0 && got[0].Quality == sensors.Suspect {
			doubted = at
		}
	}
	if doubted < 4*day-2*time.Hour || doubted > 4*day+4*time.Hour {
		t.Errorf("doubted after %s, want about four days: the drift is 3 %% then", doubted)
	}
	if offset, ok := j.Learnt(0); !ok || math.Abs(offset-1.5) > 0.05 {
		t.Errorf("learnt %v, %v; want 1.5", offset, ok)
	}
	if why := j.Why()[damp2]; !strings.Contains(why, "apart") {
		t.Errorf("the reason is %q", why)
	}
}

func TestAnOffsetLearntBeforeCounts(t *testing.T) {
	twin := Twin{First: damp, Second: damp2, Limit: 3, Offset: 1.5, Known: true}
	j := judge(t, Config{Twins: []Twin{twin}})
	for at := time.Duration(0); at < 6*time.Hour; at += time.Minute {
		v := 50 + at.Hours()
		got := j.Check(at, []sensors.Reading{{Channel: damp, Value: v}, {Channel: damp2, Value: v + 8}})
		if want := at > 2*time.Hour; got[0].Quality == sensors.Suspect != want && (at < 30*time.Minute || want) {
			t.Fatalf("%s after %s", got[0].Quality, at)
		}
	}
	if offset, ok := j.Learnt(0); !ok || offset != 1.5 {
		t.Errorf("the offset is now %v, %v", offset, ok)
	}
}

// A draught at one of the two passes within the hour, and is no drift.
func TestADraughtIsNoDrift(t *testing.T) {
	j := judge(t, Config{Twins: []Twin{{First: damp, Second: damp2, Limit: 3, Offset: 0, Known: true}}})
	for at := time.Duration(0); at < 3*time.Hour; at += time.Minute {
		v := 50 + at.Hours()
		far := v
		if at > time.Hour && at < 75*time.Minute {
			far = v + 8
		}
		if got := j.Check(at, []sensors.Reading{{Channel: damp, Value: v}, {Channel: damp2, Value: far}}); got[0].Quality != sensors.Good {
			t.Fatalf("%s after %s: %v", got[0].Quality, at, j.Why())
		}
	}
}

// A probe 1 K warmer than air at 20 °C and 60 % shows 56.4 %: the ratio of the
// saturation pressures at 20 and 21 °C, 2339.3 and 2487.7 Pa in the table of
// IAPWS-IF97. The dew point is 12.0 °C on either side (Magnus).
func TestTheBoardsWarmthIsTakenOut(t *testing.T) {
	j := judge(t, Config{Warm: []Warm{{Temperature: air, Humidity: damp, Excess: 1}}})
	shown := 60 * 2339.3 / 2487.7
	got := j.Check(0, []sensors.Reading{{Channel: air, Value: 21}, {Channel: damp, Value: shown}})
	if got[0].Value != 20 || math.Abs(got[1].Value-60) > 0.02 {
		t.Errorf("corrected to %v °C, %v %%; want 20 and 60", got[0].Value, got[1].Value)
	}
	if before, after := dewPoint(21, shown), dewPoint(got[0].Value, got[1].Value); math.Abs(before-after) > 1e-9 || math.Abs(after-12) > 0.05 {
		t.Errorf("the dew point went from %v to %v °C, want 12.0 twice", before, after)
	}
	got = j.Check(time.Second, []sensors.Reading{{Channel: air, Value: 21}, {Channel: damp, Quality: sensors.Missing}})
	if got[0].Value != 20 || got[1] != (sensors.Reading{Channel: damp, Quality: sensors.Missing}) {
		t.Errorf("without a humidity: %v", got)
	}
	got = j.Check(2*time.Second, []sensors.Reading{{Channel: air, Value: 21}, {Channel: damp, Value: 99.9}})
	if got[1].Value != 100 {
		t.Errorf("a humidity of %v %%", got[1].Value)
	}
}

// dewPoint by the Magnus formula with 17.62 and 243.12 °C (WMO-No. 8, annex 4.B);
// 25 °C and 50 % give 13.85 °C.
func dewPoint(t, rh float64) float64 {
	g := math.Log(rh/100) + 17.62*t/(243.12+t)
	return 243.12 * g / (17.62 - g)
}

func TestDewPointOfTheTable(t *testing.T) {
	for in, want := range map[[2]float64]float64{{25, 50}: 13.85, {20, 50}: 9.26, {20, 85}: 17.40, {10, 90}: 8.43} {
		if got := dewPoint(in[0], in[1]); math.Abs(got-want) > 0.01 {
			t.Errorf("%v: %v, want %v", in, got, want)
		}
	}
}

func TestNoReadingGetsBetter(t *testing.T) {
	j := judge(t, Config{})
	in := []sensors.Reading{
		{Channel: air, Value: 20, Quality: sensors.Held},
		{Channel: damp, Value: 50, Quality: sensors.Suspect},
		{Channel: damp2, Value: 0, Quality: sensors.Uncalibrated},
		{Channel: surface, Quality: sensors.Missing},
	}
	if diff := cmp.Diff(in, j.Check(0, in)); diff != "" {
		t.Errorf("want -, got +\n%s", diff)
	}
}

// While the heater is on nothing is learnt of the room.
func TestHeldReadingsAreNotComparedWith(t *testing.T) {
	j := judge(t, Config{})
	step := func(at time.Duration, v float64, q sensors.Quality) sensors.Quality {
		return j.Check(at, []sensors.Reading{{Channel: air, Value: v, Quality: q}})[0].Quality
	}
	step(0, 20, sensors.Good)
	for at := 2 * time.Second; at < 20*time.Second; at += 2 * time.Second {
		if q := step(at, 45, sensors.Held); q != sensors.Held {
			t.Fatalf("a held reading became %s", q)
		}
	}
	if q := step(20*time.Second, 20, sensors.Good); q != sensors.Good {
		t.Errorf("back at 20 °C it is %s", q)
	}
}

func TestCheckLeavesItsArgumentAlone(t *testing.T) {
	j := judge(t, Config{Warm: []Warm{{Temperature: air, Humidity: damp, Excess: 2}}})
	in := []sensors.Reading{{Channel: air, Value: 99}, {Channel: damp, Value: 50}}
	j.Check(0, in)
	if in[0].Value != 99 || in[0].Quality != sensors.Good || in[1].Value != 50 {
		t.Errorf("it became %v", in)
	}
}

func TestNewSaysWhatIsWrong(t *testing.T) {
	warm := func(w Warm) Config { return Config{Warm: []Warm{w}} }
	twin := func(w Twin) Config { return Config{Twins: []Twin{w}} }
	for says, c := range map[string]Config{
		"humidity of one chip": warm(Warm{Temperature: surface, Humidity: damp, Excess: 1}),
		"from 0 to 10":         warm(Warm{Temperature: air, Humidity: damp, Excess: -1}),
		"named":                twin(Twin{First: damp, Limit: 1}),
		"no twins":             twin(Twin{First: damp, Second: air, Limit: 1}),
		"more than 0":          twin(Twin{First: damp, Second: damp2}),
	} {
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want an error on %q", err, says)
		}
	}
}
