package odour

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Index is a value of a VOC index: no concentration, only more or less.
type Index struct {
	At    time.Time
	Value float64
}

// What a decay has to look like to be read, all judgement. The index is taken
// hour by hour, as the median of each.
const (
	hoursBefore = 6   // of the room's own baseline
	hoursAfter  = 12  // of decay
	daysOfFit   = 2   // the latest of them, since a decay slows down
	leastNoise  = 5.0 // of the index from hour to hour
	clearly     = 5.0 // times the noise that the peak stands above the baseline
	goneShare   = 0.1 // of the peak that is left when the smell counts as gone
	// trendSpread is how far a decay may turn from the one seen, as a standard
	// deviation of the logarithm of what is left of it.
	trendSpread = 0.25
	furthest    = 24 * 90 // h that a trend is carried on
)

// hour is the index's excess over the baseline in one hour.
type hour struct {
	at     time.Time // the middle
	excess float64
}

// fromIndex reads the decay of an index above the room's own baseline, and
// reports whether there is one to read.
func fromIndex(values []Index, applied, now time.Time) (Ready, bool) {
	before, after := hourly(values, time.Time{}, applied), hourly(values, applied, now)
	if len(before) < hoursBefore || len(after) < hoursAfter {
		return Ready{}, false
	}
	baseline, noise := level(before)
	top := 0
	for i := range after {
		after[i].excess -= baseline
		if after[i].excess > after[top].excess {
			top = i
		}
	}
	peak := after[top].excess
	if peak < clearly*noise {
		return Ready{}, false
	}
	d := decay{hours: after[top:], end: max(goneShare*peak, noise), baseline: baseline}
	if r, ok := d.seen(); ok {
		return r, true
	}
	return d.foreseen()
}

// hourly returns the median of each hour between two instants that has values.
func hourly(values []Index, from, to time.Time) []hour {
	var all []hour
	var of []float64
	var began time.Time
	flush := func() {
		if len(of) > 0 {
			all = append(all, hour{began.Add(30 * time.Minute), median(of)})
			of = of[:0]
		}
	}
	for _, v := range values {
		if v.At.Before(from) || !v.At.Before(to) || math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
			continue
		}
		if start := v.At.Truncate(time.Hour); !start.Equal(began) {
			flush()
			began = start
		}
		of = append(of, v.Value)
	}
	flush()
	return all
}

func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// level returns the baseline and how far an hour strays from it: the median,
// and the median distance from it as the standard deviation it would be of a
// normal distribution.
func level(hours []hour) (baseline, noise float64) {
	values := make([]float64, len(hours))
	for i, h := range hours {
		values[i] = h.excess
	}
	baseline = median(values)
	for i, h := range hours {
		values[i] = math.Abs(h.excess - baseline)
	}
	return baseline, max(1.4826*median(values), leastNoise)
}

// decay is the index from its peak on.
type decay struct {
	hours    []hour
	end      float64 // the excess that counts as gone
	baseline float64
}

// settled is how long an index has to stay low to have done so. Judgement.
const settled = 6 * time.Hour

// seen returns when the index came down for good, where it has.
func (d *decay) seen() (Ready, bool) {
	first := len(d.hours)
	for first > 0 && d.hours[first-1].excess <= d.end {
		first--
	}
	if first == len(d.hours) || first == 0 || d.hours[len(d.hours)-1].at.Sub(d.hours[first].at) < settled {
		return Ready{}, false
	}
	took := d.hours[first].at.Sub(d.hours[0].at).Hours()
	return d.ready(d.hours[0].at, took, trendSpread, "has come down"), true
}

// foreseen carries the trend of the latest days on.
func (d *decay) foreseen() (Ready, bool) {
	last := d.hours[len(d.hours)-1].at
	var x, y []float64
	for _, h := range d.hours {
		if last.Sub(h.at) <= daysOfFit*24*time.Hour && h.excess > d.end {
			x, y = append(x, h.at.Sub(last).Hours()), append(y, math.Log(h.excess))
		}
	}
	if len(x) < hoursAfter {
		return Ready{}, false
	}
	level, slope := straightLine(x, y)
	unsure := slopeError(x, y, level, slope)
	took := (level - math.Log(d.end)) / -slope
	if !(slope < -2*unsure) || took > furthest { // it is not clear that it comes down
		return Ready{}, false
	}
	return d.ready(last, max(took, 0), math.Hypot(trendSpread, unsure/slope), "comes down"), true
}

// straightLine returns the line through points that is best by least squares:
// its level at x = 0, and its slope. gonum/stat has it too, but brings the whole
// of gonum's linear algebra into the program, two megabytes; the tests compare.
func straightLine(x, y []float64) (level, slope float64) {
	meanX, meanY := meanOf(x), meanOf(y)
	var across, width float64
	for i := range x {
		across += (x[i] - meanX) * (y[i] - meanY)
		width += (x[i] - meanX) * (x[i] - meanX)
	}
	slope = across / width
	return meanY - slope*meanX, slope
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// slopeError returns the standard error of the slope of a straight line
// (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1; from memory).
func slopeError(x, y []float64, level, slope float64) float64 {
	mean := meanOf(x)
	var residual, width float64
	for i := range x {
		r := y[i] - level - slope*x[i]
		residual += r * r
		width += (x[i] - mean) * (x[i] - mean)
	}
	return math.Sqrt(residual / float64(len(x)-2) / width)
}

// ready returns what follows from a decay that takes so many hours from an
// instant on.
func (d *decay) ready(from time.Time, took, spread float64, verb string) Ready {
	wide := math.Exp(eightInTen * spread)
	return Ready{
		Low: from.Add(clock(took / wide)), Likely: from.Add(clock(took)), High: from.Add(clock(took * wide)),
		Basis: fmt.Sprintf("a rough estimate by the room's VOC index, which %s towards its own baseline of %.0f: such an index may forget in a day or two, and a nose close to the piece decides", verb, d.baseline),
	}
}
