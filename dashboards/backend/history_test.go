package backend

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"recoat/dashboards"
	"recoat/internal/store"
	"recoat/sensors"
)

var _ dashboards.History = History{}

// noon is when the rounds of the tests begin.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

func reading(q sensors.Quantity, probe string, v float64) sensors.Reading {
	return sensors.Reading{Channel: sensors.Channel{Quantity: q, Probe: probe}, Value: v}
}

func warm(v float64) sensors.Reading { return reading(sensors.AirTemperature, "", v) }
func damp(v float64) sensors.Reading { return reading(sensors.AirHumidity, "", v) }

// kept is a store with one round after the other.
type kept struct {
	*testing.T
	*store.Memory
	seq uint64
}

func (k *kept) add(node string, d time.Duration, readings ...sensors.Reading) {
	k.Helper()
	k.seq++
	k.put(sensors.Round{Node: node, Boot: "b1", Seq: k.seq, ClockSet: true, Time: noon.Add(d), Readings: readings})
}

func (k *kept) put(r sensors.Round) {
	k.Helper()
	if err := k.Append(k.Context(), "back-room", []sensors.Round{r}); err != nil {
		k.Fatal(err)
	}
}

func (k *kept) band(from, to time.Duration) []dashboards.Point {
	k.Helper()
	points, err := NewHistory(k.Memory).Band(k.Context(), "back-room", noon.Add(from), noon.Add(to))
	if err != nil {
		k.Fatal(err)
	}
	return points
}

func newKept(t *testing.T) *kept { return &kept{T: t, Memory: store.NewMemory()} }

func near[T ~float64](p *T, want, by float64) bool {
	return p != nil && math.Abs(float64(*p)-want) <= by
}

// The dew point of 20 °C and 50 % is 9.3 °C (ASHRAE psychrometric chart no. 1,
// value from memory). It is that of the means: the mean of the dew points at 18 °C
// with 80 % and at 22 °C with 20 % would be three degrees lower.
func TestABandHasTheMeansOfEachMinuteAndTheirDewPoint(t *testing.T) {
	k := newKept(t)
	k.add("bench", 0, warm(18), damp(80), reading(sensors.SurfaceTemperature, "p1", 16))
	k.add("bench", 30*time.Second, warm(22), damp(20), reading(sensors.SurfaceTemperature, "p1", 17))
	k.add("bench", 90*time.Second, warm(25), damp(40))
	points := k.band(0, 10*time.Minute)
	if len(points) != 2 {
		t.Fatalf("%+v", points)
	}
	p := points[0]
	if !near(p.Air, 20, 1e-9) || !near(p.Humidity, 50, 1e-9) || !near(p.DewPoint, 9.3, 0.1) || p.Surfaces["p1"] != 16.5 {
		t.Errorf("%+v", p)
	}
	if !p.At.Equal(noon.Add(30*time.Second)) || !points[1].At.Equal(noon.Add(90*time.Second)) {
		t.Errorf("at %s and %s, want the middle of each minute", p.At, points[1].At)
	}
	if !near(points[1].Air, 25, 1e-9) || len(points[1].Surfaces) != 0 {
		t.Errorf("%+v", points[1])
	}
}

func TestABandLeavesOutGapsAndWhatIsNotGood(t *testing.T) {
	k := newKept(t)
	bad := func(q sensors.Quality, x sensors.Reading) sensors.Reading { x.Quality = q; return x }
	k.add("bench", 0, warm(20), damp(50))
	k.add("bench", 5*time.Minute, bad(sensors.Suspect, warm(85)), bad(sensors.Missing, damp(0)))
	k.add("bench", 8*time.Minute, bad(sensors.Suspect, warm(85)), damp(51))
	k.add("bench", 9*time.Minute, warm(21), damp(0))
	points := k.band(0, 10*time.Minute)
	if len(points) != 3 {
		t.Fatalf("%d points, want none for the gap and none for what is not good", len(points))
	}
	if p := points[1]; p.Air != nil || p.DewPoint != nil || !near(p.Humidity, 51, 1e-9) {
		t.Errorf("humidity alone: %+v", p)
	}
	if p := points[2]; p.DewPoint != nil || !near(p.Air, 21, 1e-9) || !near(p.Humidity, 0, 0) {
		t.Errorf("air without any water has no dew point: %+v", p)
	}
}

func TestABandHoldsWhatIsAskedForAndNoMore(t *testing.T) {
	k := newKept(t)
	for d := -time.Minute; d <= 3*time.Minute; d += time.Minute {
		k.add("bench", d, warm(20+d.Minutes()), damp(50))
	}
	points := k.band(0, 3*time.Minute)
	if len(points) != 3 || !near(points[0].Air, 20, 1e-9) || !near(points[2].Air, 22, 1e-9) {
		t.Errorf("%+v", points)
	}
	if got, err := NewHistory(k.Memory).Band(t.Context(), "loft", noon, noon.Add(time.Hour)); err != nil || len(got) != 0 {
		t.Errorf("of a room without readings: %+v, %v", got, err)
	}
}

func TestALongBandIsNoLongerThanAShortOne(t *testing.T) {
	k := newKept(t)
	const month = 30 * 24 * time.Hour
	for d := time.Duration(0); d < month; d += 20 * time.Minute {
		k.add("bench", d, warm(20), damp(50))
	}
	if n := len(k.band(0, month)); n < points/2 || n > points+2 {
		t.Errorf("%d points, want about %d", n, points)
	}
}

// Where two places are measured one speaks for a minute, and never half of one
// with half of the other.
func TestABandIsOfOnePlaceAtATime(t *testing.T) {
	k := newKept(t)
	k.add("loft", 0, warm(10), damp(90))
	k.add("bench", time.Second, warm(20), damp(50))
	k.add("bench-2", 2*time.Second, warm(30), damp(20))
	k.add("bench", time.Minute, warm(20))
	k.add("loft", time.Minute+time.Second, warm(10), damp(90))
	k.add("bench", 2*time.Minute, warm(20))
	k.add("loft", 2*time.Minute+time.Second, damp(90))
	points := k.band(0, 5*time.Minute)
	if len(points) != 3 {
		t.Fatalf("%+v", points)
	}
	if p := points[0]; !near(p.Air, 20, 1e-9) || !near(p.Humidity, 50, 1e-9) {
		t.Errorf("bench has the word: %+v", p)
	}
	if p := points[1]; !near(p.Air, 10, 1e-9) || !near(p.Humidity, 90, 1e-9) || p.DewPoint == nil {
		t.Errorf("bench has half of the air, loft all: %+v", p)
	}
	if p := points[2]; p.DewPoint != nil || !near(p.Air, 20, 1e-9) {
		t.Errorf("halves of two places have a dew point: %+v", p)
	}
}

func TestARoundThatNobodyCouldDateIsNotDrawn(t *testing.T) {
	k := newKept(t)
	r := sensors.Round{Node: "bench", Boot: "b1", Seq: 1, Time: noon, Readings: []sensors.Reading{warm(20), damp(50)}}
	k.put(r)
	if got := k.band(0, time.Hour); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	r.Boot = "" // a foreign device has no other clock
	k.put(r)
	if got := k.band(0, time.Hour); len(got) != 1 {
		t.Errorf("%+v", got)
	}
}

func TestAStoreThatFailsSaysSo(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	k := newKept(t)
	k.add("bench", 0, warm(20))
	if _, err := NewHistory(k.Memory).Band(ended, "back-room", noon, noon.Add(time.Hour)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
