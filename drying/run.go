package drying

import (
	"math"
	"math/bits"
	"time"
)

// run follows one coat through its conditions.
type run struct {
	m        *model
	applied  time.Time
	tracks   []track
	deadline bool
	// The conditions seen last and what the model makes of them.
	seen   Conditions
	now    moment
	paces  []float64
	shut   uint32      // the bounds that were broken last
	since  []time.Time // when each of them came to be broken
	silent time.Time   // since when nothing is known; zero while something is
	// uncovered is how much of the time up to each track's stage was a gap.
	uncovered []time.Duration
}

func newRun(m *model, applied time.Time) *run {
	return &run{m: m, applied: applied, since: make([]time.Time, len(m.bounds))}
}

func (r *run) add(s Stage, label time.Duration, variance float64) {
	r.tracks = append(r.tracks, newTrack(s, label.Seconds(), variance))
	r.paces = append(r.paces, 0)
	r.uncovered = append(r.uncovered, 0)
}

// walk counts everything up to now.
func (r *run) walk(samples []Sample, now time.Time) {
	stretches(samples, r.applied, now, func(s stretch) {
		if !r.done() {
			r.take(s)
		}
	})
	if !now.Before(r.applied) {
		c, ok := standing(samples, now)
		r.see(now, c, ok)
	}
}

func (r *run) done() bool {
	for i := range r.tracks {
		if !r.tracks[i].done() {
			return false
		}
	}
	return true
}

func (r *run) take(s stretch) {
	if !r.see(s.from, s.c, s.ok) {
		r.skip(s)
		return
	}
	r.count(s.from, s.to, r.now.variance)
}

// see takes in the conditions from an instant on, and says whether anything
// can be made of them.
func (r *run) see(at time.Time, c Conditions, ok bool) bool {
	if ok && (!r.now.known || c != r.seen) {
		now := r.m.at(c)
		ok = now.known
		if ok {
			r.seen, r.now = c, now
			for i := range r.tracks {
				r.paces[i] = r.pace(r.tracks[i].stage)
			}
		}
	}
	if !ok {
		if r.silent.IsZero() {
			r.silent = at
		}
		r.shut = 0
		return false
	}
	r.silent = time.Time{}
	for began := r.now.shut &^ r.shut; began != 0; began &= began - 1 {
		r.since[bits.TrailingZeros32(began)] = at
	}
	r.shut = r.now.shut
	return true
}

func (r *run) pace(s Stage) float64 {
	if r.deadline {
		return r.m.law.pace(s, r.now.times)
	}
	return r.m.pace(s, &r.now)
}

func (r *run) count(from, to time.Time, variance float64) {
	at, dt := from.Sub(r.applied).Seconds(), to.Sub(from).Seconds()
	for i := range r.tracks {
		if t := &r.tracks[i]; !t.done() {
			t.advance(at, dt, r.paces[i], variance)
		}
	}
}

// skip passes over a gap.
func (r *run) skip(s stretch) {
	at, gap := s.from.Sub(r.applied).Seconds(), s.to.Sub(s.from)
	for i := range r.tracks {
		t := &r.tracks[i]
		if math.IsNaN(t.likely) {
			r.uncovered[i] += gap
		}
		switch {
		case t.done():
		case r.deadline:
			t.advance(at, gap.Seconds(), math.Max(r.paces[i], 1), r.now.variance)
		default:
			t.pass(at, gap.Seconds(), r.paces[i])
		}
	}
}

// standing returns the conditions of the sample that stands at an instant.
func standing(samples []Sample, at time.Time) (Conditions, bool) {
	i := firstAfter(samples, at) - 1
	if i < 0 || at.Sub(samples[i].At) >= standsFor(samples) {
		return Conditions{}, false
	}
	return samples[i].Conditions, true
}

// stand says how far a track is at now.
func (r *run) stand(i int, now time.Time) Estimate {
	t := &r.tracks[i]
	e := Estimate{
		Stage: t.stage, Stated: time.Duration(math.Round(t.label * float64(time.Second))),
		Assumed: r.m.product.IsAssumed(t.stage.LabelKey()),
		Done:    math.Min(t.gained, 1), Reached: !math.IsNaN(t.likely),
		Uncovered: r.uncovered[i],
	}
	switch {
	case e.Reached || now.Before(r.applied):
	case !r.silent.IsZero():
		why := unknownReason(errNoReadings)
		why.Since = r.silent.Truncate(time.Minute)
		e.Blocked = []Reason{why}
	default:
		e.Blocked = r.reasons()
	}
	if r.silent.IsZero() && r.now.known {
		e.Pace = r.paces[i]
	}
	return e
}

// reasons says what stops the clock, and since when.
func (r *run) reasons() []Reason {
	all := r.m.reasons(&r.now)
	for i := range all {
		for j := range r.m.bounds {
			if r.m.bounds[j].code == all[i].Code {
				all[i].Since = r.since[j].Truncate(time.Minute)
			}
		}
	}
	return all
}
