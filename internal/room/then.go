package room

import (
	"time"

	"recoat/drying"
	"recoat/drying/plan"
)

// Then is go or wait for another coat of the same product, put on when this one
// can take it.
type Then struct {
	At       time.Time // when it would go on
	Chance   float64   // that every limit holds until its film is tack-free, 0 to 1
	Good     bool      // the chance is good enough to go
	Fails    string    // the limit most likely to fail first; empty where Good
	FailsAt  time.Time
	NextGood time.Time // the next good hour to start; zero: none within the forecast
}

// thenStep is how closely the instant is taken at which the next coat would go
// on.
const thenStep = 10 * time.Minute

// thenFor is for how long after a coat could take the next one that is still
// asked about.
const thenFor = 24 * time.Hour

// thought is what a Then rests on: which forecast, and the instant.
type thought struct {
	made uint64
	at   time.Time
}

// think works out Then where what it rests on has changed. It is dear, so it is
// not done for every reading.
func (f *followed) think(now time.Time, h *history, s *sky, location *time.Location) {
	e, ok := find(f.estimates, drying.DryToRecoat)
	courses := f.courses(h, s)
	if !ok || courses == nil || e.Likely.IsZero() || now.Sub(e.Likely) > thenFor {
		f.then = nil
		return
	}
	at := e.Likely
	if at.Before(now) {
		at = now
	}
	at = at.Truncate(thenStep).Add(thenStep)
	if f.thought == (thought{s.made, at}) {
		return
	}
	f.then, f.thought = nil, thought{s.made, at}
	planner, err := plan.New(plan.Setup{
		Ensemble: courses, Finish: drying.Handle, Seed: forecastSeed, Hours: plan.UsualHours(location),
		Coats: []plan.Coat{{Product: f.Product, Film: f.Film, Learnt: f.Learnt, Waits: []drying.Stage{drying.DryToRecoat}}},
	})
	if err != nil {
		return // nothing can be planned with this coat, and its estimates say why
	}
	if at.After(planner.Until()) {
		return
	}
	v := planner.Verdict(at)
	f.then = &Then{At: at, Chance: v.Chance, Good: v.Go()}
	if v.Go() {
		return
	}
	if len(v.Fails) > 0 {
		f.then.Fails, f.then.FailsAt = v.Fails[0].Text, v.Fails[0].At.Likely
	}
	f.then.NextGood, _ = planner.NextGood(at)
}

// thenNow returns a copy, for a snapshot.
func (f *followed) thenNow() *Then {
	if f.then == nil {
		return nil
	}
	then := *f.then
	return &then
}
