package forecast

import (
	"fmt"
	"math"
	"slices"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// Shortest is the history that a forecast takes.
const Shortest = 3 * time.Hour

// Forecaster forecasts one room. It is not for use by two goroutines at once.
type Forecaster struct {
	grid     grid
	outdoors []Outdoor // in order
	location *time.Location
	series   [quantityCount]*series
	own      []Quantity  // whose series are its own to keep
	air      *Forecaster // of the air over its surface; nil: itself
	taken    int         // how many steps its own series have taken in
	weights  *weights
}

// Outdoor is the air outside at one instant, where a sensor is there.
type Outdoor struct {
	At       time.Time
	Air      sensors.Celsius
	DewPoint sensors.Celsius
}

// New makes a forecaster that knows the samples. Working days and weekends are
// told apart in the time zone of the first sample.
func New(samples []drying.Sample) *Forecaster {
	f := &Forecaster{weights: newWeights(), own: []Quantity{Air, DewPoint, Surface}}
	f.reset()
	for _, s := range samples {
		f.Add(s)
	}
	return f
}

// NewAir makes a forecaster of air alone, whose surface is the air: it looks at no
// sample's.
func NewAir() *Forecaster {
	f := &Forecaster{weights: newWeights(), own: []Quantity{Air, DewPoint}}
	f.reset()
	return f
}

// Over makes a forecaster of a surface in the air that f knows, which holds no
// more than the surface's part. Both have to be given samples of the same air, and f
// first; an Issue of one brings f to that instant. What is known of the air outside
// is f's.
func (f *Forecaster) Over() *Forecaster {
	over := &Forecaster{weights: f.weights, own: []Quantity{Surface}, air: f, location: f.location}
	if len(f.grid.bins) > 0 {
		over.grid = grid{start: f.grid.start, bins: make([]bin, 1)}
	}
	over.reset()
	return over
}

// Add takes in one more sample, in any order. It reports whether the sample
// was taken: not if nothing can be computed from it, nor if it lies more than
// 400 days from all others. One that is late makes the next Issue work out
// everything once more.
func (f *Forecaster) Add(s drying.Sample) bool {
	if f.location == nil {
		f.location = s.At.Location()
	}
	if f.bare() {
		s.Surface, s.SurfaceMeasured = s.Air, false
	}
	start := f.grid.start
	i, ok := f.grid.add(s)
	if ok && f.taken > 0 && (i < f.taken || !f.grid.start.Equal(start)) {
		f.reset()
	}
	return ok
}

// AddOutdoor takes in what is known of the air outside. It is looked at as a
// present value only: nothing is assumed of the weather to come.
func (f *Forecaster) AddOutdoor(o Outdoor) {
	i, _ := slices.BinarySearchFunc(f.outdoors, o.At, func(o Outdoor, t time.Time) int { return o.At.Compare(t) })
	f.outdoors = slices.Insert(f.outdoors, i, o)
	if f.taken > 0 && o.At.Before(f.grid.end(f.taken-1)) {
		f.reset()
	}
}

func (f *Forecaster) reset() {
	f.taken = 0
	for _, q := range f.own {
		f.series[q] = newSeries()
	}
	f.borrow()
}

// borrow takes the series that are not its own from where they are kept.
func (f *Forecaster) borrow() {
	if f.air != nil {
		f.series[Air], f.series[DewPoint] = f.air.series[Air], f.air.series[DewPoint]
	} else if f.bare() {
		f.series[Surface] = f.series[Air]
	}
}

// bare reports whether it forecasts air alone.
func (f *Forecaster) bare() bool { return !slices.Contains(f.own, Surface) }

// Options say what an ensemble is to be like.
type Options struct {
	Members int    // 500 where it is zero; 2 to 10 000
	Seed    uint64 // the same seed and history give the same ensemble
}

const (
	usualMembers = 500
	mostMembers  = 10_000
)

// Issue makes the forecast that could have been made at an instant: nothing
// later is looked at. It costs least from one instant to a later one. The
// error says what history there is, and what would do.
func (f *Forecaster) Issue(at time.Time, o Options) (*Ensemble, error) {
	if o.Members == 0 {
		o.Members = usualMembers
	}
	if o.Members < 2 || o.Members > mostMembers {
		return nil, fmt.Errorf("forecast: %d members: 2 to %d would do", o.Members, mostMembers)
	}
	if f.air != nil && !f.grid.start.Equal(f.air.grid.start) {
		return nil, fmt.Errorf("forecast: the samples of the surface reach back to %s, those of the air to %s: the same half hour would do",
			f.grid.start.Format(time.RFC3339), f.air.grid.start.Format(time.RFC3339))
	}
	last := f.grid.lastBy(at)
	if err := f.check(at, last); err != nil {
		return nil, err
	}
	f.advance(last)
	return f.ensemble(last, o), nil
}

// check refuses a history that is too short or has ended.
func (f *Forecaster) check(at time.Time, last int) error {
	known, latest := 0, -1
	for i := range f.grid.bins[:max(min(last+1, len(f.grid.bins)), 0)] {
		if f.grid.bins[i].count > 0 {
			known++
			latest = i
		}
	}
	if have := time.Duration(known) * Step; have < Shortest {
		return fmt.Errorf("forecast: up to %s there are readings of %v: at least %v would do", at.Format(time.RFC3339), have, Shortest)
	}
	if last-latest > stale {
		return fmt.Errorf("forecast: there are no readings from %s to %s: one from the last %v is needed",
			f.grid.end(latest).Format(time.RFC3339), at.Format(time.RFC3339), stale*Step)
	}
	return nil
}

// advance takes in the steps up to last, or starts again where it is beyond.
func (f *Forecaster) advance(last int) {
	if f.taken > last+1 {
		f.reset()
	}
	if f.air != nil {
		f.air.advance(last)
		f.borrow()
	}
	for ; f.taken <= last; f.taken++ {
		m := f.moment(f.taken)
		outside := f.outsideAt(f.taken)
		for _, q := range f.own {
			f.series[q].step(f.grid.value(q, f.taken), outside[q], &m)
		}
	}
}

func (f *Forecaster) moment(i int) moment {
	m := moment{weights: f.weights}
	for ahead := range m.kinds {
		switch f.grid.end(i + ahead - 1).In(f.location).Weekday() {
		case time.Saturday, time.Sunday:
			m.kinds[ahead] = 1
		}
	}
	return m
}

// outsideAt is the air outside as it was known when a step ended. A surface
// inside has most to do with the air's temperature there.
func (f *Forecaster) outsideAt(i int) [quantityCount]float64 {
	if f.air != nil {
		return f.air.outsideAt(i)
	}
	end := f.grid.end(i)
	k, _ := slices.BinarySearchFunc(f.outdoors, end.Add(1), func(o Outdoor, t time.Time) int { return o.At.Compare(t) })
	if k == 0 || end.Sub(f.outdoors[k-1].At) > stale*Step {
		return [quantityCount]float64{math.NaN(), math.NaN(), math.NaN()}
	}
	o := f.outdoors[k-1]
	return [quantityCount]float64{Air: float64(o.Air), DewPoint: float64(o.DewPoint), Surface: float64(o.Air)}
}
