package drying

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// ErrLate is the error of Follower.Add for samples from before what was
// already counted.
var ErrLate = errors.New("readings from before what was counted")

// Follower follows one coat sample by sample. What it says is the same as what
// Follow and Window say of all samples at once, but for the price of the new
// ones. It is not for use by two goroutines at once.
type Follower struct {
	coat    Coat
	refused *Reason // why the coat cannot be followed
	walk    walk
	waiting []Sample      // in order of time, not yet counted to their end
	stands  time.Duration // how long a sample stands; 0: not yet settled
	unruly  int           // samples that came out of order
}

// NewFollower begins to follow a coat.
func NewFollower(coat Coat) *Follower {
	f := &Follower{coat: coat}
	m, err := newCoatModel(coat)
	if err != nil {
		f.refused = &Reason{Code: "product", Text: err.Error()}
		return f
	}
	f.walk.run = newRun(m, coat.Applied)
	for _, s := range Stages() {
		f.walk.tracks = append(f.walk.tracks, newTrack(s, m.product.Stated.Times[s], m.learnt.factor(), m.stageVariance(s)))
	}
	if by := m.product.Stated.RecoatBy; by > 0 {
		t := newTrack(DryToRecoat, by, min(m.learnt.factor(), 1), m.spread*m.spread)
		t.deadline = true
		f.walk.tracks = append(f.walk.tracks, t)
	}
	return f
}

// Add takes in samples. One with the instant of another replaces it. Samples
// from before what Estimates or Window has counted are left out: the error is
// then ErrLate, and only a new Follower can take them in.
func (f *Follower) Add(samples ...Sample) error {
	late := 0
	for _, s := range samples {
		if !f.add(s) {
			late++
		}
	}
	if late > 0 {
		return fmt.Errorf("%w: %d of %d", ErrLate, late, len(samples))
	}
	return nil
}

// add reports whether a sample was in time.
func (f *Follower) add(s Sample) bool {
	n := len(f.waiting)
	if n == 0 || s.At.After(f.waiting[n-1].At) {
		f.waiting = append(f.waiting, s)
		return true
	}
	i, found := slices.BinarySearchFunc(f.waiting, s.At, func(w Sample, at time.Time) int { return w.At.Compare(at) })
	if found && (i == n-1 || f.waiting[i] == s) {
		f.waiting[i] = s
		return true
	}
	f.unruly++
	if found {
		f.waiting[i] = s
		return true
	}
	if f.stands > 0 && i == 0 {
		return false
	}
	f.waiting = slices.Insert(f.waiting, i, s)
	return true
}

// Estimates returns where the coat stands on its way to each stage at now, as
// Follow does. An instant before one that was asked for earlier may be taken
// for the later one.
func (f *Follower) Estimates(now time.Time, ahead Outlook) []Estimate {
	if f.refused != nil {
		return refuseEstimates(f.coat.Product, *f.refused)
	}
	w := f.at(now)
	w.tracks = w.tracks[:StageCount]
	all := make([]Estimate, StageCount)
	for i := range all {
		all[i] = w.stand(i, now)
		all[i].Doubts = f.doubts(&all[i])
	}
	w.project(now, ahead, meanOf(w.lastHour()))
	for i := range all {
		w.forecast(i, &all[i])
	}
	return all
}

// Window returns when the recoat window closes, as the function of that name
// does.
func (f *Follower) Window(now time.Time, ahead Outlook) Estimate {
	if f.refused != nil {
		return refuseEstimates(f.coat.Product, *f.refused)[DryToRecoat]
	}
	w := f.at(now)
	if w.tracks = w.tracks[StageCount:]; len(w.tracks) == 0 {
		return Estimate{Stage: DryToRecoat}
	}
	e := w.stand(0, now)
	e.Assumed, e.Blocked = false, nil
	e.Doubts = f.doubts(&e)
	w.project(now, ahead, meanOf(w.lastHour()))
	w.forecast(0, &e)
	return e
}

// at counts what can be counted for good, and returns a walk of its own that
// has come to now.
func (f *Follower) at(now time.Time) walk {
	n := firstAfter(f.waiting, now)
	if f.stands == 0 && n >= settling {
		f.stands = standsFor(f.waiting[:settling])
	}
	stands := f.stands
	if stands > 0 && n > 1 {
		f.walk.through(f.waiting[:n], stands)
		f.waiting = append(f.waiting[:0], f.waiting[n-1:]...)
		n = 1
	}
	if stands == 0 {
		stands = standsFor(f.waiting[:n])
	}
	w := f.walk.clone()
	w.through(f.waiting[:n], stands)
	if n > 0 {
		w.step(&f.waiting[n-1], now.Sub(w.applied), stands)
	}
	w.rest(now.Sub(w.applied))
	return w
}

// doubts says what speaks against the readings behind an estimate.
func (f *Follower) doubts(e *Estimate) []Reason {
	var all []Reason
	if e.Uncovered >= time.Minute {
		all = append(all, Reason{Code: "gap", Value: e.Uncovered.Minutes(), Unit: "min",
			Text: fmt.Sprintf("for %.0f minutes there was nothing to count by", e.Uncovered.Minutes())})
	}
	if f.unruly > 0 {
		all = append(all, Reason{Code: "out-of-order", Value: float64(f.unruly),
			Text: fmt.Sprintf("readings from earlier came after later ones, %d times: was the clock set back?", f.unruly)})
	}
	return all
}
