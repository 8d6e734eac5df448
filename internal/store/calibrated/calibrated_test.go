package calibrated

import (
	"math"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/internal/store/storetest"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Without a check it is the store it reads.
func TestConforms(t *testing.T) {
	storetest.Run(t, func(*testing.T) store.Readings { return New(store.NewMemory(), &calibration.Book{}) })
}

func TestReadsCorrectedAndKeepsRaw(t *testing.T) {
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	noon := time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)
	book := &calibration.Book{}
	book.Replace(map[string][]calibration.Calibration{"attic": {{Node: "bench", Channel: rh, From: noon, Gain: 1.1, Offset: -2, Sigma: 1}}})
	raw := store.NewMemory()
	r := New(raw, book)
	var rounds []sensors.Round
	for n := range 120 {
		rounds = append(rounds, sensors.Round{
			Node: "bench", Boot: "4a", Seq: uint64(n + 1), ClockSet: true, Time: noon.Add(time.Duration(n-60) * time.Minute),
			Readings: []sensors.Reading{{Channel: rh, Value: 50 + float64(n%3)}},
		})
	}
	if err := r.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	values := func(from store.Readings) (all []float64) {
		err := from.Rounds(t.Context(), store.Query{Room: "attic", From: noon.Add(-2 * time.Hour), To: noon.Add(2 * time.Hour)}, func(x sensors.Round) error {
			all = append(all, x.Readings[0].Value)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	kept, read := values(raw), values(r)
	for n := range rounds {
		want := kept[n]
		if n >= 60 {
			want = 1.1*kept[n] - 2
		}
		if kept[n] != 50+float64(n%3) || math.Abs(read[n]-want) > 1e-9 {
			t.Fatalf("round %d: kept %v, read %v, want %v", n, kept[n], read[n], want)
		}
	}
	rollups, err := r.Rollups(t.Context(), store.Series{Room: "attic", Node: "bench", Channel: rh}, time.Hour, noon.Add(-time.Hour), noon.Add(time.Hour))
	if err != nil || len(rollups) != 2 {
		t.Fatal(rollups, err)
	}
	for i, want := range []float64{51, 1.1*51 - 2} {
		if mean, _ := rollups[i].Mean(); math.Abs(mean-want) > 1e-9 {
			t.Errorf("hour %d: mean %v, want %v", i, mean, want)
		}
	}
	if math.Abs(rollups[1].Max-(1.1*52-2)) > 1e-9 || rollups[0].Max != 52 {
		t.Errorf("maxima %v, %v", rollups[0].Max, rollups[1].Max)
	}
}
