package drying

import "time"

// Coat is one product put on at one instant, with the wet thickness of its
// film (0: the label's).
type Coat struct {
	Product Product
	Applied time.Time
	Film    Microns
}

// Outlook gives the conditions expected at an instant to come, and whether any
// are.
type Outlook func(time.Time) (Conditions, bool)

// Follow returns where a coat stands on its way to each stage at now, from the
// samples since it was applied and the conditions expected after now. An
// Outlook that is nil or has nothing to say stands for the mean of the last
// hour's samples.
//
// The clock of a stage gains its pace for as long as a sample stands (see
// MaxGap), and nothing while a limit is broken. It gains nothing in a gap
// either: Uncovered counts it, and Low allows for the coat having dried on as
// before. Samples have to be in order of time; what lies after now, or out of
// order, is passed over.
func Follow(coat Coat, samples []Sample, now time.Time, ahead Outlook) []Estimate {
	m, err := newModel(coat.Product, coat.Film)
	if err != nil {
		return refuseEstimates(coat.Product, Reason{Code: "product", Text: err.Error()})
	}
	r := newRun(m, coat.Applied)
	for _, s := range Stages() {
		r.add(s, m.product.Stated.Times[s], m.stageVariance(s))
	}
	r.walk(samples, now)
	all := make([]Estimate, StageCount)
	for i := range all {
		all[i] = r.stand(i, now)
	}
	r.project(samples, now, ahead)
	for i := range all {
		r.forecast(i, &all[i])
	}
	return all
}

// Window returns when the recoat window of a coat closes: after that the coat
// has to be abraded first. Stated is the label's recoat_by; without one every
// time is zero. The window's clock runs on while a limit is broken, and at the
// label's pace or the last known, whichever is faster, while nothing is known:
// a deadline is not put off for lack of readings. Low is the one to keep.
func Window(coat Coat, samples []Sample, now time.Time, ahead Outlook) Estimate {
	m, err := newModel(coat.Product, coat.Film)
	if err != nil {
		return refuseEstimates(coat.Product, Reason{Code: "product", Text: err.Error()})[DryToRecoat]
	}
	if m.product.Stated.RecoatBy == 0 {
		return Estimate{Stage: DryToRecoat}
	}
	r := newRun(m, coat.Applied)
	r.deadline = true
	r.add(DryToRecoat, m.product.Stated.RecoatBy, m.spread*m.spread)
	r.walk(samples, now)
	e := r.stand(0, now)
	e.Assumed, e.Blocked = false, nil
	r.project(samples, now, ahead)
	r.forecast(0, &e)
	return e
}

func refuseEstimates(p Product, why Reason) []Estimate {
	all := make([]Estimate, StageCount)
	for i, s := range Stages() {
		all[i] = Estimate{Stage: s, Stated: p.Stated.Times[s], Assumed: p.IsAssumed(s.LabelKey()), Blocked: []Reason{why}}
	}
	return all
}
