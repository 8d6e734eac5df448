package dashboards

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"recoat/drying"
	"recoat/internal/room"
)

// step is one line of what to do next.
type step struct {
	at    time.Time
	When  string // "now", or a time
	What  string
	Why   []string
	From  string // where the time comes from; empty: it is told
	Acts  []act
	later bool // no time can be told: after all that has one
}

// act is a tap that does what a step asks for.
type act struct{ Title, Href string }

// nextSteps lists what the finisher will have to do in a room, soonest first.
func (w words) nextSteps(s room.Snapshot, all []due, now time.Time) []step {
	s.Margin = upTo(s.Margin, tonightAxis(now, w.location).to)
	steps := w.dueSteps(all, now)
	for _, c := range s.Coats {
		own := w.coatSteps(s, c, now)
		e, going := awaited(c)
		if d, ok := after(c.ID, all); ok && going && !e.Likely.IsZero() {
			own[0].What = d.name() + ": " + d.Title
			own[0] = w.notBefore(own[0], d, e, now)
		}
		steps = append(steps, own...)
	}
	if at, ok := fallsUnder(s.Margin, s.Limit, now); ok && coatable(s.Verdict.State) {
		steps = append(steps, step{
			at:   earlier(at),
			From: "#" + fromRoom(s.Room, "until"),
			What: "Too near the dew point from here: put no coat on after this",
			Why:  []string{"The dew margin likely falls under " + w.limit(s.Limit) + ". A coat must stay clear of it while it is wet, so be done well before."},
		})
	}
	if at, ok := risesOver(s.Margin, s.Limit, now); ok && s.Verdict.State == drying.Unfit && marginDecides(s.Verdict) {
		steps = append(steps, step{
			at:   later(at),
			From: "#" + fromRoom(s.Room, "until"),
			What: "Look again: the room is likely fit to coat",
			Why:  []string{"The dew margin likely stays over " + w.limit(s.Limit) + " from here."},
		})
	}
	sort.SliceStable(steps, func(i, j int) bool {
		a, b := steps[i], steps[j]
		if a.later != b.later {
			return b.later
		}
		return a.at.Before(b.at)
	})
	for i := range steps {
		switch {
		case steps[i].later:
			steps[i].When, steps[i].From = "later", ""
		case steps[i].at.After(now):
			steps[i].When = w.clock(steps[i].at, now)
		default:
			steps[i].When, steps[i].From = "now", ""
		}
	}
	return steps
}

// notBefore puts a step off to when its schedule lets it begin, where that is
// later than the stage that the coat is on its way to: the label of a paint may
// give hours until it is sanded and fewer until it is recoated.
func (w words) notBefore(s step, d due, e drying.Estimate, now time.Time) step {
	if !d.Known || !d.Likely.After(e.Likely) {
		return s
	}
	span := drying.Estimate{Low: d.Low, Likely: d.Likely, High: d.High}
	s.at, s.From = d.Likely.Round(told), fromCoat(waitsFor(d.Next), "next")
	s.Why = append([]string{capital(w.between(span, now)) + ", eight times in ten."}, d.waits()...)
	s.Acts = s.Acts[:min(1, len(s.Acts))]
	return s
}

func coatable(s drying.State) bool { return s == drying.Fit || s == drying.Caution }

// coatSteps are the stage a coat is on its way to, and the end of its recoat
// window.
func (w words) coatSteps(s room.Snapshot, c room.CoatNow, now time.Time) []step {
	var steps []step
	if e, ok := awaited(c); ok {
		next := w.stageStep(s, c, e, now)
		next.Acts = stageActs(c, e)
		steps = append(steps, next)
	}
	if o := c.Odour; o != nil && o.Likely.After(now) && reached(c, drying.DryToRecoat) {
		steps = append(steps, step{at: o.Likely, From: fromCoat(c.ID, "odour"), What: coatName(c) + ": likely without smell", Why: []string{
			"Between " + w.clock(o.Low, now) + " and " + w.clock(o.High, now) + ", eight times in ten; a nose decides. " + sentence(o.Basis)}})
	}
	if c.RecoatBy.IsZero() {
		return steps
	}
	by := step{at: c.RecoatBy, From: fromCoat(c.ID, "window"), What: coatName(c) + ": last time to recoat without abrading"}
	by.Why = []string{"Later than this the next coat may not bond by itself: abrade first. The label's own limit, or sooner where the room dries faster."}
	if !c.RecoatBy.After(now) {
		by.What = coatName(c) + ": abrade before the next coat"
		by.Why = []string{"The recoat window closed at " + w.clock(c.RecoatBy, now) + "."}
	}
	return append(steps, by)
}

// stageActs are the taps that go with a coat on its way: to test it, and, where
// it can take one, to note the next.
func stageActs(c room.CoatNow, e drying.Estimate) []act {
	acts := []act{{"Touch test", "#touch-" + c.ID}}
	if e.Stage == drying.DryToRecoat && e.Reached {
		acts = append(acts, act{"Note the next coat", "#bench"})
	}
	return acts
}

func reached(c room.CoatNow, s drying.Stage) bool {
	i := slices.IndexFunc(c.Estimates, func(e drying.Estimate) bool { return e.Stage == s })
	return i >= 0 && c.Estimates[i].Reached
}

func (w words) stageStep(s room.Snapshot, c room.CoatNow, e drying.Estimate, now time.Time) step {
	word := stageWords[e.Stage]
	switch {
	case e.Likely.IsZero():
		why := w.reasonTexts(append(slices.Clone(c.Stalled), e.Blocked...))
		if len(why) == 0 {
			why = []string{"No time can be given."}
		}
		return step{at: now, What: coatName(c) + ": standing still, not yet " + word.state, Why: why}
	case e.Reached:
		return step{at: now, What: coatName(c) + ": " + word.may, Why: []string{
			"By the model since " + w.likely(e, now) + ". Try it in a recess and where it lies thickest: touch decides."}}
	}
	why := []string{capital(w.between(e, now)) + ", eight times in ten. " + pace(c.Pace)}
	if e.Assumed {
		why = append(why, "The label gives no time for this; the usual time for its kind is used.")
	}
	if e.Stage == drying.DryToRecoat {
		why = append(why, w.roomThen(s, c, e, now)...)
	}
	why = append(why, w.reasonTexts(c.Stalled)...)
	why = append(why, w.reasonTexts(e.Doubts)...)
	if c.Lesson != "" {
		why = append(why, capital(c.Lesson)+".")
	}
	return step{at: e.Likely.Round(told), From: "#" + fromBar(c.ID), What: coatName(c) + ": " + word.may, Why: why}
}

// surest is the chance beyond which no forecast of a room is told.
const surest = 0.95

// roomThen says whether the next coat can go on once this one is ready: by the
// plan over the forecast, else by the dew margin alone.
func (w words) roomThen(s room.Snapshot, c room.CoatNow, e drying.Estimate, now time.Time) []string {
	t := c.Then
	if t == nil {
		return w.marginThen(s, e.Likely, now)
	}
	chance := fmt.Sprintf("%.0f in 100", 100*t.Chance)
	if t.Chance > surest {
		chance = fmt.Sprintf("more than %.0f in 100", 100*surest)
	}
	if t.Good {
		return []string{"The room will likely do then: " + chance + " that the same product keeps within every limit until it is tack-free."}
	}
	why := "Wait: only " + chance + " that the same product, put on then, keeps within every limit until it is tack-free."
	if t.Fails != "" {
		why += " " + sentence(w.inUnits(t.Fails))
		if t.FailsAt.After(now) {
			why += " Likely first at " + w.clock(t.FailsAt, now) + "."
		}
	}
	if t.NextGood.IsZero() {
		return []string{why, "No good hour to start is in sight."}
	}
	return []string{why, "The next good hour to start is " + w.clock(later(t.NextGood), now) + "."}
}

// marginThen warns when the room is likely too near its dew point at the time a
// coat is ready.
func (w words) marginThen(s room.Snapshot, at, now time.Time) []string {
	for _, p := range s.Margin {
		if !p.Projected || !p.Known || p.At.Before(at) {
			continue
		}
		if p.Margin >= s.Limit {
			return nil
		}
		if from, ok := risesOver(s.Margin, s.Limit, at); ok {
			return []string{"The room is likely too near its dew point then. Wait for " + w.clock(later(from), now) + "."}
		}
		return []string{"The room is likely too near its dew point then."}
	}
	return nil
}

// reasonTexts are the reasons as sentences, each once.
func (w words) reasonTexts(reasons []drying.Reason) []string {
	var out []string
	for _, r := range reasons {
		if t := sentence(w.inUnits(r.Text)); t != "" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}
