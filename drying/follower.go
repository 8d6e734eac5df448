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
	r       run
	waiting []Sample // in order of time, not yet counted to their end
	stands  time.Duration
	until   time.Duration // since the coat was applied: counted up to here
	recent  []Sample      // counted ones of the last hour that can be used
	stuck   stuck
	late    int
}

// NewFollower begins to follow a coat.
func NewFollower(coat Coat) *Follower {
	f := &Follower{coat: coat}
	m, err := newCoatModel(coat)
	if err != nil {
		f.refused = &Reason{Code: "product", Text: err.Error()}
		return f
	}
	f.r = newRun(m, coat.Applied)
	for _, s := range Stages() {
		f.r.tracks = append(f.r.tracks, newTrack(s, m.labelTime(s), m.stageVariance(s)))
	}
	if by := m.product.Stated.RecoatBy; by > 0 {
		t := newTrack(DryToRecoat, scale(by, min(coat.Learnt.factor(), 1)), m.spread*m.spread)
		t.deadline = true
		f.r.tracks = append(f.r.tracks, t)
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
	f.late += late
	if late > 0 {
		return fmt.Errorf("%w: %d of %d", ErrLate, late, len(samples))
	}
	return nil
}

func (f *Follower) add(s Sample) bool {
	n := len(f.waiting)
	if n == 0 || s.At.After(f.waiting[n-1].At) {
		f.waiting = append(f.waiting, s)
		return true
	}
	if f.stands > 0 && s.At.Before(f.waiting[0].At) {
		return false
	}
	i, found := slices.BinarySearchFunc(f.waiting, s.At, func(w Sample, at time.Time) int { return w.At.Compare(at) })
	if found {
		f.waiting[i] = s
		return true
	}
	f.waiting = slices.Insert(f.waiting, i, s)
	return true
}

// Estimates returns where the coat stands on its way to each stage at now,
// from the samples up to now and the conditions expected after it. An Outlook
// that is nil or has nothing to say stands for the mean of the last hour's
// samples. An instant before one that was asked for earlier is taken as that.
func (f *Follower) Estimates(now time.Time, ahead Outlook) []Estimate {
	if f.refused != nil {
		return refuseEstimates(f.coat.Product, *f.refused)
	}
	r := f.at(now)
	r.tracks = r.tracks[:StageCount]
	all := make([]Estimate, StageCount)
	for i := range all {
		all[i] = r.stand(i, now)
		all[i].Doubts = f.doubts(&all[i])
	}
	f.project(&r, now, ahead)
	for i := range all {
		r.forecast(i, &all[i])
	}
	return all
}

// Window returns when the recoat window of the coat closes: see Window.
func (f *Follower) Window(now time.Time, ahead Outlook) Estimate {
	switch {
	case f.refused != nil:
		return refuseEstimates(f.coat.Product, *f.refused)[DryToRecoat]
	case len(f.r.tracks) == StageCount:
		return Estimate{Stage: DryToRecoat}
	}
	r := f.at(now)
	r.tracks = r.tracks[StageCount:]
	e := r.stand(0, now)
	e.Stated, e.Assumed, e.Blocked = r.m.product.Stated.RecoatBy, false, nil
	e.Doubts = f.doubts(&e)
	f.project(&r, now, ahead)
	r.forecast(0, &e)
	return e
}
