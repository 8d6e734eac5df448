package drying

import (
	"math"
	"time"
)

// track counts a coat's way to one stage, or to the end of its recoat window.
// Times are in seconds since the coat was applied, so that a year of readings
// is cheap to walk.
type track struct {
	stage    Stage
	deadline bool // the clock runs on whatever the room is like
	stated   time.Duration
	label    float64 // stated time by what was learnt of the product, s
	fixed    float64 // variance that goes with the stage wherever the coat dries
	pace     float64 // under the conditions seen last
	rate     float64 // the share of label that goes with it, per second
	gained   float64 // share of the label time that has passed
	// slack is the share that may have passed besides, while nothing was known.
	slack float64
	// variance is the sum of the law's variance over gained.
	variance float64
	// next is the share below which nothing can be reached, so that most steps
	// need no width.
	next              float64
	low, likely, high float64       // when the stage is reached; NaN: not yet
	uncovered         time.Duration // of the time up to likely
}

func newTrack(s Stage, stated time.Duration, factor, fixed float64) track {
	nan := math.NaN()
	return track{
		stage: s, stated: stated, label: seconds(stated) * factor, fixed: fixed, next: earliest,
		low: nan, likely: nan, high: nan,
	}
}

// factor is how many times longer than stated the track takes the stage to be.
func (t *track) factor() float64 { return t.label / seconds(t.stated) }

func seconds(d time.Duration) float64 { return float64(d) / 1e9 }

// reached reports whether the stage is reached by the model.
func (t *track) reached() bool { return !math.IsNaN(t.likely) }

// done reports whether even the latest instant is found.
func (t *track) done() bool { return !math.IsNaN(t.high) }

// earliest is the least share at which a stage can be reached early: the
// width that goes with it is wider than any law's.
const earliest = 0.15

// advance counts dt seconds from the instant at, in which the share gain of
// the label time passed.
func (t *track) advance(at, dt, gain, variance float64) {
	before := t.gained
	t.gained += gain
	t.variance += variance * gain
	if t.gained+t.slack >= t.next {
		t.mark(at, dt, before, gain)
	}
}

// mark notes what was reached in a step.
func (t *track) mark(at, dt, before, gain float64) {
	w := t.width()
	reach(&t.low, at, dt, before+t.slack, gain, 1/w)
	reach(&t.likely, at, dt, before, gain, 1)
	reach(&t.high, at, dt, before, gain, w)
	// The width changes slowly: it is looked at again after a tenth of the way
	// that is left.
	switch {
	case math.IsNaN(t.low):
		t.next = t.gained + t.slack + (1/w-t.gained-t.slack)/10
	case math.IsNaN(t.likely):
		t.next = 1
	case math.IsNaN(t.high):
		t.next = t.gained + (w-t.gained)/10
	default:
		t.next = math.Inf(1)
	}
}

// pass counts dt seconds of which nothing is known, in which the clock may
// have run on at the last known pace. Only the early end of the interval moves.
func (t *track) pass(at, dt float64) {
	before, gain := t.gained+t.slack, dt*t.rate
	t.slack += gain
	if t.gained > 0 && before+gain >= earliest {
		reach(&t.low, at, dt, before, gain, 1/t.width())
	}
}

func (t *track) width() float64 { return width(t.variance/t.gained + t.fixed) }

// reach notes when a share that grows evenly by gain over dt comes to target,
// unless that was noted before.
func reach(when *float64, at, dt, before, gain, target float64) {
	if !math.IsNaN(*when) || before+gain < target {
		return
	}
	part := 0.0
	if gain > 0 {
		part = min(max((target-before)/gain, 0), 1)
	}
	*when = at + part*dt
}
