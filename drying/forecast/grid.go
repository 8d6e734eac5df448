package forecast

import (
	"math"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/sensors"
)

const (
	// Step is the time between the points of a trajectory. A point is the mean
	// over the step that ends there.
	Step   = 30 * time.Minute
	perDay = int(24 * time.Hour / Step)

	// Horizon is how far a trajectory goes.
	Horizon = 48 * time.Hour
	leads   = int(Horizon / Step)

	// longestSilence is the widest gap between samples that are taken to belong
	// together: a clock that was never set says 1970.
	longestSilence = 400 * 24 * time.Hour
)

// grid holds the means of samples over each step.
type grid struct {
	start time.Time
	bins  []bin
}

type bin struct {
	sum      [quantityCount]float64
	count    float64
	measured float64 // how many of the surfaces were measured
}

// add puts a sample in its place and returns the index of the bin that
// changed, or false where it was left out. Bins put before the first move all
// others, and the index is then 0.
func (g *grid) add(s drying.Sample) (int, bool) {
	if s.Check() != nil {
		return 0, false
	}
	if len(g.bins) == 0 {
		g.start = s.At.Truncate(Step)
	}
	if d := s.At.Sub(g.start); d < -longestSilence || d > g.length()+longestSilence {
		return 0, false
	}
	if s.At.Before(g.start) {
		from := s.At.Truncate(Step)
		g.bins = append(make([]bin, int(g.start.Sub(from)/Step)), g.bins...)
		g.start = from
	}
	i := int(s.At.Sub(g.start) / Step)
	for len(g.bins) <= i {
		g.bins = append(g.bins, bin{})
	}
	g.bins[i].add(s)
	return i, true
}

func (b *bin) add(s drying.Sample) {
	b.sum[Air] += float64(s.Air)
	b.sum[DewPoint] += float64(air.DewPoint(s.Air, s.Humidity))
	b.sum[Surface] += float64(s.Surface)
	b.count++
	if s.SurfaceMeasured {
		b.measured++
	}
}

func (g *grid) length() time.Duration { return time.Duration(len(g.bins)) * Step }

// end is when bin i is complete.
func (g *grid) end(i int) time.Time { return g.start.Add(time.Duration(i+1) * Step) }

// lastBy is the last bin that is complete at an instant, -1 where none is.
func (g *grid) lastBy(at time.Time) int {
	if at.Before(g.start) {
		return -1
	}
	return int(at.Sub(g.start)/Step) - 1
}

// value is the mean of a quantity over bin i: NaN where nothing is known.
func (g *grid) value(q Quantity, i int) float64 {
	if i < 0 || i >= len(g.bins) || g.bins[i].count == 0 {
		return math.NaN()
	}
	return g.bins[i].sum[q] / g.bins[i].count
}

// conditions are the means of bin i, and whether anything is known of it.
func (g *grid) conditions(i int) (drying.Conditions, bool) {
	t := g.value(Air, i)
	if math.IsNaN(t) {
		return drying.Conditions{}, false
	}
	c := drying.Conditions{
		Air: sensors.Celsius(t), Surface: sensors.Celsius(g.value(Surface, i)), SurfaceMeasured: g.bins[i].measured > 0,
	}
	c.Humidity = min(air.HumidityFromDewPoint(c.Air, sensors.Celsius(g.value(DewPoint, i))), 100)
	return c, true
}
