package drying

import "time"

// Coat is one product put on at one instant, with the wet thickness of its
// film (0: the label's) and what touch tests taught of the product.
type Coat struct {
	Product Product
	Applied time.Time
	Film    Microns
	Learnt  Learnt
}

// Outlook gives the conditions expected at an instant to come, and whether any
// are.
type Outlook func(time.Time) (Conditions, bool)

// Follow returns where a coat stands on its way to each stage at now, from the
// samples since it was applied and the conditions expected after now. An
// Outlook that is nil or has nothing to say stands for the mean of the last
// hour's samples. Whoever asks again and again keeps a Follower.
//
// The clock of a stage gains its pace for as long as a sample stands (see
// MaxGap), and nothing while a limit is broken. It gains nothing in a gap
// either: Uncovered counts it, and Low allows for the coat having dried on as
// before. Humidity of exactly 100 % for more than an hour is a gap: the sensor
// is at its stop. Samples after now are passed over; those out of order are
// put in order, and Doubts says so.
func Follow(coat Coat, samples []Sample, now time.Time, ahead Outlook) []Estimate {
	return followed(coat, samples).Estimates(now, ahead)
}

// Window returns when the recoat window of a coat closes: after that the coat
// has to be abraded first. Stated is the label's recoat_by; without one every
// time is zero. The window's clock runs on while a limit is broken, and at the
// label's pace or the last known, whichever is faster, while nothing is known:
// a deadline is not put off for lack of readings. Low is the one to keep.
func Window(coat Coat, samples []Sample, now time.Time, ahead Outlook) Estimate {
	return followed(coat, samples).Window(now, ahead)
}

func followed(coat Coat, samples []Sample) *Follower {
	f := NewFollower(coat)
	for _, s := range samples {
		f.add(s) // nothing is counted yet, so nothing is late
	}
	return f
}

func refuseEstimates(p Product, why Reason) []Estimate {
	all := make([]Estimate, StageCount)
	for i, s := range Stages() {
		all[i] = Estimate{Stage: s, Stated: p.Stated.Times[s], Assumed: p.IsAssumed(s.LabelKey()), Blocked: []Reason{why}}
	}
	return all
}
