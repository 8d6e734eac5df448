package drying

import (
	"time"

	"recoat/sensors"
)

// Interval is a span of time.
type Interval struct{ From, To time.Time }

// Course is what a surface and the air over it went through over a span of
// time. Everything but the gaps is said of the part that is covered alone.
type Course struct {
	Interval
	Covered                time.Duration
	Gaps                   []Interval    // nothing is known of them, and nothing is put in
	Measured               time.Duration // of the covered part: a probe was on the surface
	Air, Surface, DewPoint Range         // °C
	Humidity, AtSurface    Range         // %RH
	DewMargin, AirMargin   Range         // K: of the surface, and of the air, above the dew point
	AirSpeed               Range         // m/s; zero where it was not measured
	// MarginSigma and AirSigma are the standard uncertainties of the least dew
	// margin and of the least air margin.
	MarginSigma, AirSigma sensors.Kelvins
	Limits                []Held // one for every limit, broken or not
}

// Range is the least, mean and greatest value of a quantity, each over time,
// and when the extremes were first met. It is zero where nothing is covered.
type Range struct {
	Min, Mean, Max float64
	MinAt, MaxAt   time.Time
	sum, weight    float64
}

func (s *Range) add(v float64, at time.Time, seconds float64) {
	if s.MinAt.IsZero() || v < s.Min {
		s.Min, s.MinAt = v, at
	}
	if s.MaxAt.IsZero() || v > s.Max {
		s.Max, s.MaxAt = v, at
	}
	s.sum, s.weight = s.sum+v*seconds, s.weight+seconds
	s.Mean = s.sum / s.weight
}

// Held is how conditions kept to one limit.
type Held struct {
	Code      string // as in a Reason
	Key       string // of the label; empty: the limit is not from one
	Limit     float64
	Unit      string
	Floor     bool          // values below the limit break it; else those above
	Outside   time.Duration // how long it was broken
	Excess    float64       // how far outside, summed over time: the unit times minutes
	Longest   time.Duration // the longest unbroken run outside; a gap ends a run
	LongestAt time.Time     // when that began
	// Worst is the value furthest outside, or nearest to being so, with its
	// time and standard uncertainty.
	Worst   float64
	WorstAt time.Time
	Sigma   float64

	run   time.Duration
	since time.Time
	worst moist
}

// Courses sums up samples over several spans in one pass. The samples have to
// be in order of time, and stand as they do for Follow.
func Courses(samples []Sample, l Limits, u Uncertainty, spans []Interval) []Course {
	bounds := boundsOf(l, roomBand, false)
	all := make([]Course, len(spans))
	first, last := time.Time{}, time.Time{}
	for i, s := range spans {
		all[i] = Course{Interval: s, Limits: make([]Held, len(bounds))}
		for k := range bounds {
			b := &bounds[k]
			all[i].Limits[k] = Held{Code: b.code, Key: b.key, Limit: b.limit, Unit: b.unit, Floor: b.floor}
		}
		if first.IsZero() || s.From.Before(first) {
			first = s.From
		}
		if s.To.After(last) {
			last = s.To
		}
	}
	seen := sight{values: make([]float64, len(bounds))}
	stretches(samples, first, last, func(s stretch) {
		seen.look(s, bounds)
		for i := range all {
			all[i].take(&seen, bounds)
		}
	})
	for i := range all {
		all[i].finish(bounds, u, samples)
	}
	return all
}

// sight is one stretch with what follows from it, reckoned once for all spans.
type sight struct {
	stretch
	m      moist
	dew    float64
	wet    float64
	values []float64
}

func (x *sight) look(s stretch, bounds []bound) {
	x.stretch = s
	if x.ok = s.ok && s.c.Check() == nil; !x.ok {
		return
	}
	x.m.take(&s.c, 0)
	x.dew, x.wet = x.m.dew(), x.m.atSurface()
	for i := range bounds {
		switch b := &bounds[i]; {
		case b.warm != nil:
			x.values[i] = b.warm(&x.m) - x.dew
		case b.code == "surface-humid":
			x.values[i] = x.wet
		default:
			x.values[i] = b.value(&x.m)
		}
	}
}

// take counts the part of a stretch that lies in the span.
func (c *Course) take(x *sight, bounds []bound) {
	from, to := x.from, x.to
	if from.Before(c.From) {
		from = c.From
	}
	if to.After(c.To) {
		to = c.To
	}
	lasted := to.Sub(from)
	switch {
	case lasted <= 0:
	case !x.ok:
		c.miss(from, to)
	default:
		c.Covered += lasted
		c.spread(x, from, lasted.Seconds())
		for i := range bounds {
			c.Limits[i].take(&bounds[i], x, i, from, lasted)
		}
		if x.c.SurfaceMeasured {
			c.Measured += lasted
		}
	}
}

func (c *Course) miss(from, to time.Time) {
	if n := len(c.Gaps); n > 0 && c.Gaps[n-1].To.Equal(from) {
		c.Gaps[n-1].To = to
	} else {
		c.Gaps = append(c.Gaps, Interval{from, to})
	}
	for i := range c.Limits {
		c.Limits[i].run = 0
	}
}

func (c *Course) spread(x *sight, at time.Time, seconds float64) {
	c.Air.add(x.m.air, at, seconds)
	c.Surface.add(x.m.surface, at, seconds)
	c.Humidity.add(x.m.humidity, at, seconds)
	c.AtSurface.add(x.wet, at, seconds)
	c.DewPoint.add(x.dew, at, seconds)
	c.DewMargin.add(x.m.surface-x.dew, at, seconds)
	c.AirMargin.add(x.m.air-x.dew, at, seconds)
	if x.c.AirSpeed > 0 {
		c.AirSpeed.add(float64(x.c.AirSpeed), at, seconds)
	}
}

func (h *Held) take(b *bound, x *sight, i int, at time.Time, lasted time.Duration) {
	v := x.values[i]
	margin := b.margin(v)
	if h.WorstAt.IsZero() || margin < b.margin(h.Worst) {
		h.Worst, h.WorstAt, h.worst = v, at, x.m
	}
	if margin >= 0 {
		h.run = 0
		return
	}
	if h.run == 0 {
		h.since = at
	}
	h.Outside, h.run = h.Outside+lasted, h.run+lasted
	h.Excess -= margin * lasted.Minutes()
	if h.run > h.Longest {
		h.Longest, h.LongestAt = h.run, h.since
	}
}

// finish adds the uncertainties, which are needed at the extremes alone.
func (c *Course) finish(bounds []bound, u Uncertainty, samples []Sample) {
	if c.Covered == 0 {
		return
	}
	u = u.forConditions(Conditions{SurfaceMeasured: c.Measured == c.Covered})
	for i := range bounds {
		h := &c.Limits[i]
		h.Sigma = bounds[i].sigma(&h.worst, u)
	}
	at := func(t time.Time) moist {
		i := max(firstAfter(samples, t)-1, 0)
		return newMoist(samples[i].Conditions, 0)
	}
	least, cool := at(c.DewMargin.MinAt), at(c.AirMargin.MinAt)
	c.MarginSigma = sensors.Kelvins(dewMarginSigma(&least, u))
	c.AirSigma = sensors.Kelvins(airMarginSigma(&cool, u))
}
