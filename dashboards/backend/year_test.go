package backend

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// BenchmarkBandOfAYear reads a year for the room page out of a real store. A
// round every five minutes gives the rollups as many rows as one every ten
// seconds: an hour has one, however many rounds it had.
func BenchmarkBandOfAYear(b *testing.B) {
	s, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "readings.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := s.Close(); err != nil {
			b.Error(err)
		}
	})
	const year = 365 * 24 * time.Hour
	var rounds []sensors.Round
	for d := time.Duration(0); d < year; d += 5 * time.Minute {
		x := 2 * math.Pi * d.Hours() / 24
		rounds = append(rounds, sensors.Round{Node: "bench", Boot: "b1", Seq: 1 + uint64(d/time.Minute), ClockSet: true, Time: noon.Add(d), Readings: []sensors.Reading{
			warm(18 + 3*math.Sin(x)), damp(60 - 20*math.Sin(x)), reading(sensors.SurfaceTemperature, "p1", 16+2*math.Cos(x)),
		}})
		if len(rounds) == 5000 {
			if err := s.Append(b.Context(), "back-room", rounds); err != nil {
				b.Fatal(err)
			}
			rounds = rounds[:0]
		}
	}
	h := NewHistory(s)
	for b.Loop() {
		points, err := h.Band(b.Context(), "back-room", noon, noon.Add(year))
		if err != nil {
			b.Fatal(err)
		}
		if len(points) < 300 {
			b.Fatalf("%d points", len(points))
		}
	}
}
