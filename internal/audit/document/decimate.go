package document

import (
	"math"
	"time"

	"recoat/drying"
	"recoat/drying/air"
)

// point is a value at an instant; NaN begins a gap.
type point struct {
	at    time.Time
	value float64
}

// curve is one line of the drawing.
type curve struct {
	name   string
	points []point
	dash   []float64 // lengths of strokes and gaps, mm; none: solid
	width  float64   // mm
}

// series are what is drawn of a record.
type series struct {
	air, surface, dew, humidity, margin []point
	probe                               bool // a surface was measured at all
}

// seriesOf makes the curves of samples between two instants, with a gap wherever
// nothing was measured for longer than a sample stands.
func seriesOf(samples []drying.Sample, from, to time.Time) series {
	var s series
	nan := math.NaN()
	var last time.Time
	for i := range samples {
		x := &samples[i]
		if x.At.Before(from) || x.At.After(to) || x.Check() != nil {
			continue
		}
		if !last.IsZero() && x.At.Sub(last) > drying.MaxGap {
			for _, list := range []*[]point{&s.air, &s.surface, &s.dew, &s.humidity, &s.margin} {
				*list = append(*list, point{last.Add(drying.MaxGap), nan})
			}
		}
		last = x.At
		dew := float64(air.DewPoint(x.Air, x.Humidity))
		surface := nan
		if x.SurfaceMeasured {
			s.probe, surface = true, float64(x.Surface)
		}
		s.air = append(s.air, point{x.At, float64(x.Air)})
		s.surface = append(s.surface, point{x.At, surface})
		s.dew = append(s.dew, point{x.At, dew})
		s.humidity = append(s.humidity, point{x.At, float64(x.Humidity)})
		s.margin = append(s.margin, point{x.At, surface - dew})
	}
	return s
}

// decimate thins points to at most four for each of n columns: the first, the
// least, the greatest and the last of each stay, so that no extreme and no jump
// is lost, and gaps stay gaps.
func decimate(points []point, from, to time.Time, n int) []point {
	if len(points) <= 4*n {
		return points
	}
	var kept []point
	width := float64(to.Sub(from)) / float64(n)
	column := func(p point) int { return int(float64(p.at.Sub(from)) / width) }
	for i := 0; i < len(points); {
		first := i
		least, most := i, i
		for ; i < len(points) && column(points[i]) == column(points[first]) && math.IsNaN(points[i].value) == math.IsNaN(points[first].value); i++ {
			if points[i].value < points[least].value {
				least = i
			}
			if points[i].value > points[most].value {
				most = i
			}
		}
		before := -1
		for _, k := range [4]int{first, min(least, most), max(least, most), i - 1} {
			if k > before {
				kept, before = append(kept, points[k]), k
			}
		}
	}
	return kept
}

// bounds returns the least and greatest value, and whether there is one.
func bounds(curves ...[]point) (least, most float64, ok bool) {
	for _, c := range curves {
		for _, p := range c {
			switch {
			case math.IsNaN(p.value):
			case !ok:
				least, most, ok = p.value, p.value, true
			default:
				least, most = min(least, p.value), max(most, p.value)
			}
		}
	}
	return least, most, ok
}
