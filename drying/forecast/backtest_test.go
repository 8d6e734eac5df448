package forecast

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/drying"
)

// slowClear takes from two hours to two days over its stages.
func slowClear(tb testing.TB) *drying.Product {
	tb.Helper()
	p, err := drying.Product{Name: "Slow clear", Family: drying.Waterborne, Stated: drying.Stated{
		Air: 20, Humidity: 50, Times: [drying.StageCount]time.Duration{
			drying.SetToTouch: 3 * time.Hour, drying.DryToRecoat: 8 * time.Hour, drying.Handle: 16 * time.Hour,
		},
	}}.Complete()
	if err != nil {
		tb.Fatal(err)
	}
	return &p
}

func mustRun(tb testing.TB, b Backtest, samples []drying.Sample) Report {
	tb.Helper()
	r, err := b.Run(context.Background(), samples)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// The report against the forecasts that it is about, added up anew.
func TestReportIsOfWhatWasIssued(t *testing.T) {
	t.Parallel()
	sums := map[string][]Issued{}
	b := Backtest{Every: 4 * time.Hour, Members: 50, Product: slowClear(t), Each: func(i Issued) {
		key := i.Quantity
		if strings.HasPrefix(key, "ready ") {
			key = "ready"
		} else {
			key += i.TargetAt.Sub(i.IssuedAt).String()
		}
		sums[key] = append(sums[key], i)
	}}
	samples := simulated(t, "stove-shop", 6, 11*day)
	r := mustRun(t, b, samples)
	check := func(key string, s Score) {
		t.Helper()
		loss, held := 0.0, 0.0
		for _, i := range sums[key] {
			for k, said := range []float64{i.Low, i.Median, i.High} {
				if d := i.Observed - said; d > 0 {
					loss += Levels[k] * d / 3
				} else {
					loss -= (1 - Levels[k]) * d / 3
				}
			}
			if i.Low <= i.Observed && i.Observed <= i.High {
				held++
			}
		}
		n := float64(len(sums[key]))
		if s.Count < 10 || s.Count != len(sums[key]) || math.Abs(s.Forecast.Pinball-loss/n) > 1e-9 || math.Abs(s.Forecast.Coverage-held/n) > 1e-9 {
			t.Errorf("%s: the report says %+v; %v of %d held, with a loss of %v", key, s, held/n, len(sums[key]), loss/n)
		}
	}
	for _, l := range r.Leads {
		check("air"+l.Lead.String(), l.Air)
		check("dew_point"+l.Lead.String(), l.DewPoint)
		check("surface"+l.Lead.String(), l.Surface)
	}
	check("ready", *r.Ready)
	// What was observed is in the record.
	for _, i := range sums["air6h0m0s"] {
		sum, n := 0.0, 0.0
		for _, s := range samples {
			if !s.At.Before(i.TargetAt.Add(-Step)) && s.At.Before(i.TargetAt) {
				sum += float64(s.Air)
				n++
			}
		}
		if math.Abs(sum/n-i.Observed) > 1e-9 {
			t.Fatalf("at %v: observed %v, the record says %v", i.TargetAt, i.Observed, sum/n)
		}
	}
}

// In a room that repeats itself to the minute, the naive forecast of the day
// before is nearly perfect, and nothing can be much better.
func TestNaiveForecastsAreWhatTheySay(t *testing.T) {
	r := mustRun(t, Backtest{Every: 2 * time.Hour, Members: 20}, made(8*day, swinging))
	for _, l := range r.Leads {
		if l.Air.Yesterday.Pinball > 0.02 || l.Air.Forecast.Pinball > 0.1 {
			t.Errorf("%v: losses of %.3f and %.3f K in a room that repeats itself", l.Lead, l.Air.Yesterday.Pinball, l.Air.Forecast.Pinball)
		}
		if daily := l.Lead%(24*time.Hour) == 0; daily != (math.Abs(l.Air.LastValue.Pinball-l.Air.Yesterday.Pinball) < 1e-9) {
			t.Errorf("%v: the last value has a loss of %.3f K, the day before %.3f", l.Lead, l.Air.LastValue.Pinball, l.Air.Yesterday.Pinball)
		}
	}
}

func TestRunRefuses(t *testing.T) {
	samples := made(5*day, swinging)
	for says, b := range map[string]Backtest{
		"more than 144h0m0s would do": {Warm: 6 * day},
		"a multiple of it would do":   {Every: 45 * time.Minute},
	} {
		if _, err := b.Run(context.Background(), samples); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want it to say %q", err, says)
		}
	}
	if _, err := (Backtest{}).Run(context.Background(), nil); err == nil {
		t.Error("nothing was scored without an error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := (Backtest{}).Run(ctx, samples); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want it to stop", err)
	}
}

// A change after an instant changes nothing that was issued up to it.
func TestRunDoesNotPeek(t *testing.T) {
	t.Parallel()
	samples := simulated(t, "back-room", 8, 7*day)
	cut := monday.Add(5 * day)
	said := func(samples []drying.Sample) []quantiles {
		var all []quantiles
		mustRun(t, Backtest{Every: 3 * time.Hour, Members: 20, Each: func(i Issued) {
			if !i.IssuedAt.After(cut) {
				all = append(all, quantiles{i.Low, i.Median, i.High})
			}
		}}, samples)
		return all
	}
	want := said(samples)
	changed := slices.Clone(samples)
	for i := range changed {
		if !changed[i].At.Before(cut) {
			changed[i].Air += 7
		}
	}
	if got := said(changed); len(want) < 20 || !slices.Equal(want, got) {
		t.Error("a changed future changed what was issued before it")
	}
}

// In a room where nothing changes, a coat that goes on between two readings is
// ready when its forecast says: the reading before it counts from the first.
func TestTruthBeginsWithTheCoat(t *testing.T) {
	t.Parallel()
	samples := made(9*day, func(float64) (float64, float64) { return 20, 9 })
	for i := range samples {
		samples[i].At = samples[i].At.Add(7 * time.Minute)
	}
	n, off := 0.0, 0.0
	mustRun(t, Backtest{Every: 3 * time.Hour, Members: 20, Product: slowClear(t), Each: func(i Issued) {
		if strings.HasPrefix(i.Quantity, "ready ") {
			n++
			off += i.Observed - i.Median
		}
	}}, samples)
	if n < 20 || math.Abs(off/n) > 0.03 {
		t.Errorf("%v stages were ready %.3f h later than forecast", n, off/n)
	}
}
