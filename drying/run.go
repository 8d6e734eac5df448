package drying

import (
	"math/bits"
	"slices"
	"time"
)

// run counts one coat's tracks through stretches of conditions. Instants are
// durations since the coat was applied.
type run struct {
	m       *model
	applied time.Time
	tracks  []track
	// The conditions seen last and what the model makes of them.
	seen   Conditions
	now    moment
	shut   uint32          // the bounds that were broken last
	since  []time.Duration // when each of them came to be broken
	silent time.Duration   // since when nothing is known
	why    error           // why nothing is known; nil while something is
}

func newRun(m *model, applied time.Time) run {
	return run{m: m, applied: applied, since: make([]time.Duration, len(m.bounds))}
}

// clone returns a run that can go on by itself.
func (r *run) clone() run {
	c := *r
	c.tracks, c.since = slices.Clone(r.tracks), slices.Clone(r.since)
	return c
}

func (r *run) done() bool {
	for i := range r.tracks {
		if !r.tracks[i].done() {
			return false
		}
	}
	return true
}

// take counts a stretch of conditions that were measured.
func (r *run) take(from, to time.Duration, c *Conditions) {
	switch {
	case to < 0:
	case r.see(max(from, 0), c):
		r.count(max(from, 0), to, r.now.variance)
	default:
		r.skip(max(from, 0), to)
	}
}

// miss passes over a stretch of which nothing is known.
func (r *run) miss(from, to time.Duration, why error) {
	if to >= 0 {
		r.lose(max(from, 0), why)
		r.skip(max(from, 0), to)
	}
}

// see takes in the conditions from an instant on, and says whether anything
// can be made of them.
func (r *run) see(at time.Duration, c *Conditions) bool {
	if !r.now.known || *c != r.seen {
		if err := c.Check(); err != nil {
			r.lose(at, err)
			return false
		}
		r.seen = *c
		r.m.at(c, &r.now)
		for i := range r.tracks {
			t := &r.tracks[i]
			t.pace = r.pace(t)
			t.rate = t.pace / t.label
		}
	}
	r.why = nil
	if r.now.shut != r.shut {
		for began := r.now.shut &^ r.shut; began != 0; began &= began - 1 {
			r.since[bits.TrailingZeros32(began)] = at
		}
		r.shut = r.now.shut
	}
	return true
}

// lose notes that nothing is known from an instant on.
func (r *run) lose(at time.Duration, why error) {
	if r.why == nil {
		r.silent = at
	}
	r.why, r.shut = why, 0
}

func (r *run) pace(t *track) float64 {
	if t.deadline {
		return r.m.law.pace(t.stage, r.now.times)
	}
	return r.m.pace(t.stage, &r.now)
}

func (r *run) count(from, to time.Duration, variance float64) {
	at, dt := seconds(from), seconds(to-from)
	for i := range r.tracks {
		t := &r.tracks[i]
		t.advance(at, dt, dt*t.rate, variance)
	}
}

func (r *run) skip(from, to time.Duration) {
	at, gap := seconds(from), to-from
	for i := range r.tracks {
		t := &r.tracks[i]
		if !t.reached() {
			t.uncovered += gap
		}
		if t.deadline {
			t.advance(at, seconds(gap), seconds(gap)*max(t.pace, 1)/t.label, r.now.variance)
		} else {
			t.pass(at, seconds(gap))
		}
	}
}

// stand says how far a track is at now.
func (r *run) stand(i int, now time.Time) Estimate {
	t := &r.tracks[i]
	e := Estimate{
		Stage: t.stage, Stated: t.stated, Assumed: r.m.product.IsAssumed(t.stage.LabelKey()),
		Done: min(t.gained, 1), Gained: t.gained * t.factor(),
		Reached: t.reached(), Uncovered: t.uncovered,
	}
	switch {
	case e.Reached || now.Before(r.applied):
	case r.why != nil:
		why := unknownReason(r.why)
		why.Since = r.applied.Add(r.silent).Truncate(time.Minute)
		e.Blocked = []Reason{why}
	default:
		e.Blocked = r.reasons()
	}
	if r.why == nil && r.now.known {
		e.Pace = t.pace / t.factor()
	}
	return e
}

// reasons says what stops the clock, and since when.
func (r *run) reasons() []Reason {
	all := r.m.reasons(&r.now)
	for i := range all {
		for j := range r.m.bounds {
			if r.m.bounds[j].code == all[i].Code {
				all[i].Since = r.applied.Add(r.since[j]).Truncate(time.Minute)
			}
		}
	}
	return all
}
