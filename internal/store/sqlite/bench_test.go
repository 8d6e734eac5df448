package sqlite

import (
	"math"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

var dusk = time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)

// nightRound is the n-th round, two seconds after the one before, of a room
// that cools and warms again.
func nightRound(node string, n int) sensors.Round {
	phase := 2 * math.Pi * float64(n) / 43200
	return sensors.Round{
		Node: node, Boot: "4a7c", Seq: uint64(n + 1), ClockSet: true,
		Time: dusk.Add(time.Duration(n) * 2 * time.Second), Uptime: time.Hour + time.Duration(n)*2*time.Second,
		Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 16 + 3*math.Sin(phase)},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 55 - 8*math.Sin(phase)},
			{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature}, Value: 15 + 3*math.Sin(phase-0.4)},
		},
	}
}

// fill appends count rounds of each node, five minutes' worth in turn.
func fill(tb testing.TB, s *Store, count int, nodes ...string) {
	tb.Helper()
	fillBy(tb, s, 150, count, nodes...)
}

// fillBy appends count rounds of each node, so many in turn.
func fillBy(tb testing.TB, s *Store, turn, count int, nodes ...string) {
	tb.Helper()
	for first := 0; first < count; first += turn {
		for _, node := range nodes {
			var rounds []sensors.Round
			for n := first; n < min(count, first+turn); n++ {
				rounds = append(rounds, nightRound(node, n))
			}
			if err := s.Append(tb.Context(), "attic", rounds); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

func benchStore(b *testing.B) (*Store, string) {
	b.Helper()
	path := filepath.Join(b.TempDir(), "readings.db")
	s, err := Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = s.Close() })
	return s, path
}

func BenchmarkAppendOne(b *testing.B) {
	s, _ := benchStore(b)
	n := 0
	for b.Loop() {
		if err := s.Append(b.Context(), "attic", []sensors.Round{nightRound("bench", n)}); err != nil {
			b.Fatal(err)
		}
		n++
	}
}

// BenchmarkAppendTogether has sixteen callers wait for the disk at a time.
func BenchmarkAppendTogether(b *testing.B) {
	s, _ := benchStore(b)
	var n atomic.Int64
	b.SetParallelism(16 / runtime.GOMAXPROCS(0))
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := s.Append(b.Context(), "attic", []sensors.Round{nightRound("bench", int(n.Add(1)))}); err != nil {
				b.Error(err)
				return
			}
		}
	})
}

func BenchmarkAppendHundred(b *testing.B) {
	s, _ := benchStore(b)
	n := 0
	for b.Loop() {
		rounds := make([]sensors.Round, 100)
		for i := range rounds {
			rounds[i] = nightRound("bench", n)
			n++
		}
		if err := s.Append(b.Context(), "attic", rounds); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "rounds/s")
}

// BenchmarkScanThreeDays reads three days of two-second rounds of one node.
func BenchmarkScanThreeDays(b *testing.B) {
	const rounds = 3 * 43200
	s, path := benchStore(b)
	fill(b, s, rounds, "bench")
	for b.Loop() {
		seen := 0
		err := s.Rounds(b.Context(), store.Query{Room: "attic", From: dusk, To: dusk.AddDate(0, 0, 3)}, func(sensors.Round) error {
			seen++
			return nil
		})
		if err != nil || seen != rounds {
			b.Fatalf("%d rounds, %v", seen, err)
		}
	}
	b.ReportMetric(fileSize(b, s, path)/rounds, "file-B/round")
}

// fileSize returns the size of the file once its log has been written back.
func fileSize(tb testing.TB, s *Store, path string) float64 {
	tb.Helper()
	if _, err := s.db.Write.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		tb.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		tb.Fatal(err)
	}
	return float64(info.Size())
}

// TestSize holds the whole file after 43 200 rounds, a day of one every two
// seconds, with its indexes and rollups, to 12 bytes for each round of three
// channels, written by one node alone or by three in turn.
func TestSize(t *testing.T) {
	if testing.Short() {
		t.Skip("it writes 86 400 rounds: left out of short runs")
	}
	for name, nodes := range map[string][]string{"one node": {"bench"}, "three nodes": {"bench", "door", "loft"}} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "readings.db")
			s := openAt(t, path)
			const rounds = 43200
			fill(t, s, rounds/len(nodes), nodes...)
			per := fileSize(t, s, path) / rounds
			t.Logf("%.1f bytes a round", per)
			if per > 12 {
				t.Errorf("%.1f bytes a round, 12 at most", per)
			}
		})
	}
}

// BenchmarkAppendHistory appends history, five thousand rounds of ten seconds
// at a time.
func BenchmarkAppendHistory(b *testing.B) {
	s, _ := benchStore(b)
	n := 0
	for b.Loop() {
		rounds := make([]sensors.Round, 5000)
		for i := range rounds {
			rounds[i] = nightRound("bench", n)
			rounds[i].Time = dusk.Add(time.Duration(n) * 10 * time.Second)
			n++
		}
		if err := s.Append(b.Context(), "attic", rounds); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "rounds/s")
}
