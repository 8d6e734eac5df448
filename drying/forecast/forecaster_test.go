package forecast

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// What happens after a forecast is made must not change it.
func TestIssueDoesNotPeek(t *testing.T) {
	t.Parallel()
	past := simulated(t, "stove-shop", 5, 6*day)
	at := monday.Add(5*day + 10*time.Minute)
	changed := append([]drying.Sample(nil), past...)
	altered := 0
	for i := range changed {
		if !changed[i].At.Before(at) {
			changed[i].Air += 9
			changed[i].Surface -= 4
			altered++
		}
	}
	if altered == 0 {
		t.Fatal("nothing was altered")
	}
	o := Options{Members: 50, Seed: 3}
	want := mustIssue(t, New(past), at, o)
	if got := mustIssue(t, New(changed), at, o); !reflect.DeepEqual(want.values, got.values) {
		t.Error("a changed future changed the forecast")
	}
	// Nor does it matter that a later forecast was made before.
	f := New(changed)
	mustIssue(t, f, at.Add(12*time.Hour), o)
	if got := mustIssue(t, f, at, o); !reflect.DeepEqual(want.values, got.values) {
		t.Error("a forecast made later changed an earlier one")
	}
	// A changed past does matter, or the above says nothing.
	changed[0].Air += 9
	for i := range 300 {
		changed[i].Air += 2
	}
	if got := mustIssue(t, New(changed), at, o); reflect.DeepEqual(want.values, got.values) {
		t.Error("a changed past left the forecast as it was")
	}
}

func TestIssueIsDecidedByItsSeed(t *testing.T) {
	f := New(made(4*day, swinging))
	at := monday.Add(4 * day)
	one, two := mustIssue(t, f, at, Options{Members: 40, Seed: 1}), mustIssue(t, f, at, Options{Members: 40, Seed: 1})
	if !reflect.DeepEqual(one.values, two.values) {
		t.Error("the same seed gave two ensembles")
	}
	other := mustIssue(t, f, at, Options{Members: 40, Seed: 2})
	if reflect.DeepEqual(one.values, other.values) {
		t.Error("another seed gave the same ensemble")
	}
	if a, b := mustQuantile(t, one, Air, 6*time.Hour, 0.9), mustQuantile(t, other, Air, 6*time.Hour, 0.9); a != b {
		t.Errorf("the seed changed a quantile: %v and %v", a, b)
	}
}

func TestSamplesInAnyOrder(t *testing.T) {
	all := made(3*day, swinging)
	at, o := monday.Add(3*day), Options{Members: 20}
	want := mustIssue(t, New(all), at, o)
	f := New(all[300:])
	mustIssue(t, f, at, o)
	for _, s := range all[:300] {
		if !f.Add(s) {
			t.Fatalf("%v was left out", s.At)
		}
	}
	got := mustIssue(t, f, at, o)
	if d := math.Abs(mustQuantile(t, want, Air, 6*time.Hour, 0.5) - mustQuantile(t, got, Air, 6*time.Hour, 0.5)); d > 1e-9 {
		t.Errorf("the order of samples changed the median by %v K", d)
	}
}

func TestAddLeavesOutWhatCannotBe(t *testing.T) {
	f := New(made(4*time.Hour, swinging))
	good := drying.Conditions{Air: 15, Humidity: 50, Surface: 15}
	for name, s := range map[string]drying.Sample{
		"air at 200 °C":         {At: monday, Conditions: drying.Conditions{Air: 200, Humidity: 50, Surface: 15}},
		"a clock at 1970":       {At: time.Unix(0, 0), Conditions: good},
		"a clock far ahead":     {At: monday.Add(5000 * day), Conditions: good},
		"air without any water": {At: monday, Conditions: drying.Conditions{Air: 15, Surface: 15}},
	} {
		if f.Add(s) {
			t.Errorf("%s was taken", name)
		}
	}
}

func TestIssueSaysWhatIsMissing(t *testing.T) {
	f := New(made(10*time.Hour, swinging))
	for _, c := range []struct {
		at   time.Duration
		o    Options
		says string
	}{
		{2 * time.Hour, Options{}, "at least 3h0m0s would do"},
		{-time.Hour, Options{}, "at least 3h0m0s would do"},
		{20 * time.Hour, Options{}, "there are no readings from 2026-02-02T10:00:00Z"},
		{10 * time.Hour, Options{Members: 1}, "2 to 10000 would do"},
		{10 * time.Hour, Options{Members: 20000}, "2 to 10000 would do"},
	} {
		if _, err := f.Issue(monday.Add(c.at), c.o); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("after %v: got %v, want it to say %q", c.at, err, c.says)
		}
	}
	if _, err := New(nil).Issue(monday, Options{}); err == nil {
		t.Error("a forecast was made from nothing")
	}
}

// From three hours on there is a forecast; its widths are judgement until there
// are past forecasts to learn from.
func TestShortHistory(t *testing.T) {
	t.Parallel()
	e := mustIssue(t, New(made(4*time.Hour, swinging)), monday.Add(3*time.Hour), Options{})
	low, middle, high := mustQuantile(t, e, Air, 24*time.Hour, 0.1), mustQuantile(t, e, Air, 24*time.Hour, 0.5), mustQuantile(t, e, Air, 24*time.Hour, 0.9)
	if !e.Judged(24*time.Hour) || !(low < middle-1 && middle+1 < high && high-low < 10) {
		t.Errorf("after three hours: %.1f, %.1f, %.1f °C; judged %v", low, middle, high, e.Judged(24*time.Hour))
	}
	if e := mustIssue(t, New(made(10*day, swinging)), monday.Add(10*day), Options{}); e.Judged(24 * time.Hour) {
		t.Error("after ten days the widths still rest on judgement")
	}
}

// A clean day is learnt within a few days.
func TestLearnsTheDay(t *testing.T) {
	e := mustIssue(t, New(made(6*day, swinging)), monday.Add(6*day), Options{})
	for _, lead := range []time.Duration{3 * time.Hour, 6 * time.Hour, 15 * time.Hour, 27 * time.Hour, 45 * time.Hour} {
		want, _ := swinging((lead - Step/2).Hours())
		if got := mustQuantile(t, e, Air, lead, 0.5); math.Abs(got-want) > 0.4 {
			t.Errorf("%v ahead: got %.2f °C, want %.2f", lead, got, want)
		}
	}
}

// A heater that was switched on for good shows at once and fades from the
// forecast over days, whatever a regression that never saw it makes of that:
// 5 K fade by 0.6 K in six hours, and the regression is trusted with 1 K.
func TestFollowsAStep(t *testing.T) {
	t.Parallel()
	stepped := func(h float64) (float64, float64) {
		v, dew := swinging(h)
		if h >= 5*24 {
			v += 5
		}
		return v, dew
	}
	e := mustIssue(t, New(made(5*day+6*time.Hour, stepped)), monday.Add(5*day+3*time.Hour), Options{})
	for lead, most := range map[time.Duration]float64{time.Hour: 1, 6 * time.Hour: 1.7, 24 * time.Hour: 3} {
		want, _ := stepped(5*24 + 3 + (lead - Step/2).Hours())
		if got := mustQuantile(t, e, Air, lead, 0.5); math.Abs(got-want) > most {
			t.Errorf("%v ahead: got %.2f °C, want %.2f within %v K", lead, got, want, most)
		}
	}
}

// Readings that stop for half a day leave no hole in the forecast.
func TestGap(t *testing.T) {
	t.Parallel()
	var all []drying.Sample
	for _, s := range made(6*day, swinging) {
		if gone := s.At.Sub(monday); gone < 4*day || gone > 4*day+13*time.Hour {
			all = append(all, s)
		}
	}
	f := New(all)
	for _, at := range []time.Duration{4*day + 2*time.Hour, 5 * day, 6 * day} {
		e := mustIssue(t, f, monday.Add(at), Options{Members: 20})
		for m := range e.Members() {
			for s := range e.Steps() {
				if c := e.Conditions(m, s); c.Check() != nil {
					t.Fatalf("after %v, step %d: %v", at, s, c.Check())
				}
			}
		}
		want, _ := swinging((at + 6*time.Hour - Step/2).Hours())
		if got := mustQuantile(t, e, Air, 6*time.Hour, 0.5); math.Abs(got-want) > 1 {
			t.Errorf("after %v, 6 h ahead: got %.2f °C, want %.2f", at, got, want)
		}
	}
}

// A room that follows the air outside, which leads it by hours, is forecast
// better with a sensor out there.
func TestOutdoorHelps(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 12))
	outside := []float64{10}
	for len(outside) < 9*24 {
		last := outside[len(outside)-1]
		outside = append(outside, last+0.05*(10-last)+0.6*rng.NormFloat64())
	}
	inside := func(h float64) (float64, float64) { return outside[max(int(h)-6, 0)], -5 }
	samples := made(9*day, inside)
	var off [2]float64
	for k := range off {
		f := New(samples)
		for h := 0; k == 1 && h < len(outside); h++ {
			f.AddOutdoor(Outdoor{At: monday.Add(time.Duration(h) * time.Hour), Air: sensors.Celsius(outside[h]), DewPoint: -5})
		}
		for h := 6 * 24; h < 8*24+18; h += 3 {
			want, _ := inside(float64(h) + 5.75)
			e := mustIssue(t, f, monday.Add(time.Duration(h)*time.Hour), Options{Members: 20})
			off[k] += math.Abs(mustQuantile(t, e, Air, 6*time.Hour, 0.5) - want)
		}
	}
	if off[1] > 0.85*off[0] {
		t.Errorf("errors of %.2f K altogether without the air outside, %.2f with it", off[0], off[1])
	}
}
