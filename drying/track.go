package drying

import "math"

// track counts a coat's way to one stage. Times are in seconds since the coat
// was applied, so that a month of readings is cheap to walk.
type track struct {
	stage  Stage
	label  float64 // label time of the stage, s
	fixed  float64 // variance that goes with the stage wherever the coat dries
	gained float64 // share of the label time that has passed
	// slack is the share that may have passed besides, while nothing was known.
	slack float64
	// variance is the sum of the law's variance over gained.
	variance          float64
	low, likely, high float64 // when the stage is reached; NaN: not yet
}

func newTrack(s Stage, label, fixed float64) track {
	nan := math.NaN()
	return track{stage: s, label: label, fixed: fixed, low: nan, likely: nan, high: nan}
}

// done reports whether nothing more can be found out.
func (t *track) done() bool { return !math.IsNaN(t.high) }

// earliest is the least share at which a stage can be reached early: the
// width that goes with it is wider than any law's.
const earliest = 0.15

// advance counts dt seconds from the instant at, in which the clock ran at the
// given pace.
func (t *track) advance(at, dt, pace, variance float64) {
	before, gain := t.gained, dt*pace/t.label
	t.gained += gain
	t.variance += variance * gain
	if t.gained+t.slack < earliest {
		return
	}
	w := t.width()
	reach(&t.low, at, dt, before+t.slack, gain, 1/w)
	reach(&t.likely, at, dt, before, gain, 1)
	reach(&t.high, at, dt, before, gain, w)
}

// pass counts dt seconds of which nothing is known, in which the clock may
// have run on at the given pace. Only the early end of the interval moves.
func (t *track) pass(at, dt, pace float64) {
	before, gain := t.gained+t.slack, dt*pace/t.label
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
		part = math.Min(math.Max((target-before)/gain, 0), 1)
	}
	*when = at + part*dt
}
