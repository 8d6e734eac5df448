package forecast

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/recording"
	"recoat/sensors"
	"recoat/sensors/simroom"
)

// monday is the start of records that are made up.
var monday = time.Date(2026, 2, 2, 0, 0, 0, 0, time.UTC)

const day = 24 * time.Hour

// made is a record of a sample every ten minutes from a law of temperature and
// dew point, with a little noise.
func made(length time.Duration, law func(hours float64) (t, dew float64)) []drying.Sample {
	rng := rand.New(rand.NewPCG(7, 7))
	var all []drying.Sample
	for gone := time.Duration(0); gone < length; gone += 10 * time.Minute {
		t, dew := law(gone.Hours())
		t, dew = t+0.05*rng.NormFloat64(), dew+0.05*rng.NormFloat64()
		all = append(all, drying.Sample{At: monday.Add(gone), Conditions: drying.Conditions{
			Air: sensors.Celsius(t), Surface: sensors.Celsius(t - 0.5), SurfaceMeasured: true,
			Humidity: air.HumidityFromDewPoint(sensors.Celsius(t), sensors.Celsius(dew)),
		}})
	}
	return all
}

// swinging is a room that is warmest at 15:00 by three kelvins.
func swinging(hours float64) (t, dew float64) {
	return 15 + 3*math.Cos(2*math.Pi*(hours-15)/24), 6
}

// simulated is a record of a simulated room, a sample every ten minutes.
func simulated(tb testing.TB, preset string, seed uint64, length time.Duration) []drying.Sample {
	tb.Helper()
	cfg, err := simroom.Preset(preset)
	if err != nil {
		tb.Fatal(err)
	}
	cfg.Seed = seed
	var all []drying.Sample
	err = simroom.Record(cfg, monday, length, 10*time.Minute, func(at time.Time, t simroom.Truth) {
		all = append(all, drying.Sample{At: at, Conditions: drying.Conditions{
			Air: t.Air, Humidity: t.Humidity, Surface: t.Pieces[0].Surface, SurfaceMeasured: true,
		}})
	})
	if err != nil {
		tb.Fatal(err)
	}
	return all
}

// office is a fortnight of one office: Candanedo and Feldheim 2016, Energy and
// Buildings 112, 28-39, whose data are in a public repository. It has no probe.
func office(tb testing.TB) []drying.Sample {
	tb.Helper()
	path := filepath.Join("..", "..", "..", "shared", "data", "rooms", "office-2015-02.csv")
	if _, err := os.Stat(path); err != nil {
		tb.Skip("the recorded office is not beside this checkout:", err)
	}
	samples, _, err := recording.ReadFile(path, time.UTC)
	if err != nil {
		tb.Fatal(err)
	}
	return samples
}

func mustIssue(tb testing.TB, f *Forecaster, at time.Time, o Options) *Ensemble {
	tb.Helper()
	e, err := f.Issue(at, o)
	if err != nil {
		tb.Fatal(err)
	}
	return e
}

func mustQuantile(tb testing.TB, e *Ensemble, q Quantity, lead time.Duration, p float64) float64 {
	tb.Helper()
	v, ok := e.Quantile(q, lead, p)
	if !ok {
		tb.Fatalf("%s has no quantile %v at %v", q, p, lead)
	}
	return float64(v)
}
