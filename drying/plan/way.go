package plan

import (
	"iter"
	"math"
	"math/bits"
	"time"

	"recoat/drying"
)

// cell is what one step of a member's course makes of a kind of coat.
type cell struct {
	drying.Gauge
	read, known bool
}

// shut reports whether a coat may not go on, or an open film is spoilt.
func (c *cell) shut() bool { return !c.known || c.Broken != 0 }

// at returns the cell of a step counted from the ensemble's start: after its
// end, the last day again and again.
func (p *Planner) at(k *kind, member int, step int64) *cell {
	if k.ways[member] == nil {
		k.ways[member] = make([]cell, p.steps)
	}
	i := p.inside(step)
	c := &k.ways[member][i]
	if !c.read {
		c.Gauge, c.known = k.meter.Read(p.conditions(member, i))
		c.read = true
	}
	return c
}

func (p *Planner) inside(step int64) int {
	if step < p.steps {
		return int(step)
	}
	day := min(int64(24*time.Hour/p.step), p.steps)
	return int(p.steps - day + (step-p.steps)%day)
}

func (p *Planner) conditions(member, step int) drying.Conditions {
	warmed := 0.0
	if p.warmed != nil {
		warmed = p.warmed[step]
	}
	return p.setup.Change.apply(p.setup.Ensemble.Conditions(member, step), warmed)
}

// stepOf returns the step in which an instant lies; the first holds all that
// is before it.
func (p *Planner) stepOf(t time.Duration) int64 { return max(int64(t/p.step), 0) }

// endOf returns when a step ends.
func (p *Planner) endOf(step int64) time.Duration { return time.Duration(step+1) * p.step }

// patience is how long anything is waited for.
const patience = 60 * 24 * time.Hour

// span is a part of a course that lies in one step.
type span struct{ from, to time.Duration }

// course goes through the steps of a member's course from an instant on, for
// as long as anything is waited for.
func (p *Planner) course(k *kind, member int, from time.Duration) iter.Seq2[span, *cell] {
	return func(yield func(span, *cell) bool) {
		for at, step := from, p.stepOf(from); at < from+patience; step++ {
			end := p.endOf(step)
			if !yield(span{at, end}, p.at(k, member, step)) {
				return
			}
			at = end
		}
	}
}

// ready returns when a coat put on at an instant comes to a stage, or never.
func (p *Planner) ready(c *coat, member int, on time.Duration, s drying.Stage) time.Duration {
	w := clock{off: c.off[member], fixed: c.kind.fixed[s]}
	for in, cell := range p.course(c.kind, member, on) {
		if after, done := w.count(cell.Rates[s], cell.Variance, in.to-in.from); done {
			return in.from + after
		}
	}
	return never
}

// closes returns when the recoat window of a coat closes, or never. A member
// whose coats are slow does not put it off: it is a deadline.
func (p *Planner) closes(c *coat, member int, on time.Duration) time.Duration {
	if c.Product.Stated.RecoatBy == 0 {
		return never
	}
	w := clock{off: min(c.off[member], 0)}
	for in, cell := range p.course(c.kind, member, on) {
		if after, done := w.count(cell.Window, cell.Variance, in.to-in.from); done {
			return in.from + after
		}
	}
	return never
}

// allReady returns when all of the stages are reached.
func (p *Planner) allReady(c *coat, member int, on time.Duration, stages []drying.Stage) time.Duration {
	last := on
	for _, s := range stages {
		last = max(last, p.ready(c, member, on, s))
	}
	return last
}

// spoilt follows an open film. Either free says when it is tack-free, or at
// says when and limit by which limit it was spoilt before that: -1 where
// nothing could be computed. What did not happen is never; a film that stays
// open has neither.
func (p *Planner) spoilt(c *coat, member int, on time.Duration) (free, at time.Duration, limit int) {
	w := clock{off: c.off[member], fixed: c.kind.fixed[drying.TackFree]}
	for in, cell := range p.course(c.kind, member, on) {
		switch {
		case !cell.known:
			return never, in.from, -1
		case cell.Broken != 0:
			return never, in.from, bits.TrailingZeros32(cell.Broken)
		}
		if after, done := w.count(cell.Rates[drying.TackFree], cell.Variance, in.to-in.from); done {
			return in.from + after, never, 0
		}
	}
	return never, never, 0
}

// clock counts a coat's way to one stage.
type clock struct {
	off, fixed       float64
	gained, variance float64
	// The variance seen so far that puts the stage soonest, and the share below
	// which it is then not reached: most steps need no exponential.
	soonest, floor float64
}

// count adds a time spent at a rate, and returns how far into it the stage was
// reached, if it was.
func (c *clock) count(rate, variance float64, spent time.Duration) (time.Duration, bool) {
	before := c.gained
	gain := rate * spent.Seconds()
	c.gained += gain
	c.variance += gain * variance
	if c.floor == 0 || (variance-c.soonest)*c.off < 0 {
		c.soonest, c.floor = variance, math.Exp(c.off*math.Sqrt(variance+c.fixed))
	}
	if gain == 0 || c.gained < c.floor {
		return 0, false
	}
	needed := math.Exp(c.off * math.Sqrt(c.variance/c.gained+c.fixed))
	if c.gained < needed {
		return 0, false
	}
	part := min(max((needed-before)/gain, 0), 1)
	return time.Duration(math.Round(part * float64(spent))), true
}
