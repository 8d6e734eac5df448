package room

import (
	"time"

	"recoat/drying"
	"recoat/drying/forecast"
	"recoat/drying/surface"
	"recoat/drying/wood"
)

// board reckons the surface of a part where no probe speaks, from its
// thickness and from what a probe on it taught before it fell silent. The zero
// board knows nothing: the air's temperature stands in.
type board struct{ learner *surface.Learner }

// standing is for how long a part is taken to have stood in the room before it
// is asked about, where the history says what the air was like.
const standing = 6 * time.Hour

// taughtFor is for how long before that a probe on the part is listened to.
const taughtFor = 3 * 24 * time.Hour

// newBoard returns the part's board as it is at an instant, having stood in the
// room.
func (f *followed) newBoard(h *history, at time.Time) board {
	if f.ThicknessMM == 0 {
		return board{}
	}
	before := standing
	if f.Probe != "" {
		before = taughtFor
	}
	var b board
	for _, s := range h.since(at.Add(-before)) {
		if !s.start.Before(at) {
			break
		}
		c, ok := s.on(f.Probe)
		if !ok {
			continue
		}
		if b.learner == nil {
			learner, err := surface.NewLearner(wood.Typical(f.ThicknessMM/1000), c.Surface, s.start)
			if err != nil {
				return board{} // no board is like that
			}
			b.learner = learner
		}
		b.at(s.start, c)
	}
	return b
}

// boardFrom returns the part's board as it is at a sample, having stood long in
// its air.
func (f *followed) boardFrom(s drying.Sample) board {
	if f.ThicknessMM == 0 {
		return board{}
	}
	learner, err := surface.NewLearner(wood.Typical(f.ThicknessMM/1000), s.Surface, s.At)
	if err != nil {
		return board{} // no board is like that
	}
	return board{learner}
}

// at moves the board on to an instant and puts its surface into conditions that
// have no measured one. It stays unmeasured: the model allows for that. A
// measured one teaches the board.
func (b board) at(t time.Time, c drying.Conditions) drying.Conditions {
	if b.learner == nil {
		return c
	}
	b.learner.Advance(t, c.Air)
	if c.SurfaceMeasured {
		b.learner.Teach(c.Surface)
	} else {
		c.Surface, _ = b.learner.Surface()
	}
	return c
}

// ownCourses is a forecast over the surface of a part without a probe.
type ownCourses struct {
	made     uint64 // which forecast it rests on
	ensemble *drying.Ensemble
}

// courses returns the courses that the conditions on the part may take; nil
// where there is no forecast. Without a probe the board lags each course of the
// air.
func (f *followed) courses(h *history, s *sky) *drying.Ensemble {
	if s.ensemble == nil || f.Probe != "" || f.ThicknessMM == 0 {
		return s.ensemble
	}
	if f.own.made == s.made {
		return f.own.ensemble
	}
	f.own = ownCourses{s.made, s.ensemble}
	b := f.newBoard(h, s.as)
	if b.learner == nil {
		return f.own.ensemble
	}
	if own, err := drying.NewEnsemble(s.as, forecast.Step, b.under(s.as, s.ensemble)); err == nil {
		f.own.ensemble = own
	}
	return f.own.ensemble
}

// under returns courses of the air that begin at an instant with the board's
// surface in them. Each half hour is taken at its middle.
func (b board) under(begin time.Time, air *drying.Ensemble) [][]drying.Conditions {
	courses := make([][]drying.Conditions, air.Members())
	for m := range courses {
		own := board{b.learner.Clone()}
		courses[m] = make([]drying.Conditions, air.Steps())
		for i := range courses[m] {
			c, at := air.Conditions(m, i), begin.Add(time.Duration(i)*forecast.Step)
			own.learner.Advance(at, c.Air)
			courses[m][i] = own.at(at.Add(forecast.Step/2), c)
		}
	}
	return courses
}
