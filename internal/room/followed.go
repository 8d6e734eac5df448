package room

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"recoat/drying"
)

// followed is a job with what has been reckoned of it.
type followed struct {
	Job
	follower  *drying.Follower // nil: to be begun anew
	board     board            // its surface where no probe speaks
	counted   time.Time        // start of the newest slot that it took in
	asked     time.Time        // the newest instant that it was asked for
	estimates []drying.Estimate
	window    drying.Estimate   // when the recoat window closes
	then      *Then             // nil: no forecast
	thought   thought           // what then rests on
	own       ownCourses        // of a part without a probe
	promised  []drying.Estimate // as they stood half an hour after the coat; empty: not known
	slow      time.Time         // since when it has all but stopped drying; zero: it has not
}

// resume goes on with a job that is as it was, and begins any other anew.
func resume(old []*followed, job Job) *followed {
	for _, f := range old {
		switch {
		case f.ID != job.ID:
		case reflect.DeepEqual(f.Job, job):
			return f
		case f.Applied.Equal(job.Applied) && f.Refuted == job.Refuted && f.Learnt == job.Learnt: // what was told of it at first stays told
			return &followed{Job: job, promised: f.promised, slow: f.slow}
		}
	}
	return &followed{Job: job}
}

// reset drops what was reckoned from history.
func (f *followed) reset() { f.follower = nil }

// changed says that the slot at t has changed. Only the newest slot can be
// counted a second time.
func (f *followed) changed(t time.Time) {
	if t.Truncate(slotWidth).Before(f.counted) {
		f.reset()
	}
}

// reckon takes in the history up to now and estimates every stage, as if what
// is to come were like the last hour.
func (f *followed) reckon(h *history, now time.Time) {
	if f.follower == nil || now.Before(f.asked) {
		f.follower = drying.NewFollower(drying.Coat{Product: f.Product, Applied: f.Applied, Film: f.Film, Learnt: f.Learnt})
		f.counted = f.Applied.Add(-drying.MaxGap).Truncate(slotWidth) // what stood when the coat went on counts
		f.board = f.newBoard(h, f.counted)
		f.takeEarlier(h, now)
	}
	f.asked = now
	for _, s := range h.since(f.counted) {
		if s.start.After(now) {
			break
		}
		c, ok := s.on(f.Probe)
		if !ok {
			continue
		}
		if err := f.follower.Add(drying.Sample{At: s.start, Conditions: f.board.at(s.start, c)}); err != nil {
			f.reset() // it is begun anew next time
			return
		}
		f.counted = s.start
	}
	f.estimates = f.follower.Estimates(now, nil)
	f.window = f.follower.Window(now, nil)
}

// takeEarlier takes in what the part met before it lay as it lies now; what was
// measured here until then was not of it.
func (f *followed) takeEarlier(h *history, now time.Time) {
	if f.Since.IsZero() {
		return
	}
	begin := f.counted
	if len(f.Earlier) > 0 {
		f.board = f.boardFrom(f.Earlier[0])
	}
	for _, s := range f.Earlier {
		if s.At.After(now) {
			break
		}
		s.Conditions = f.board.at(s.At, s.Conditions)
		if s.At.Before(begin) {
			continue
		}
		if err := f.follower.Add(s); err != nil {
			f.reset() // it is begun anew next time
			return
		}
	}
	if here := f.Since.Add(slotWidth - 1).Truncate(slotWidth); here.After(f.counted) {
		f.counted = here // the minute of the move is the other room's
	}
	if f.board.learner == nil {
		f.board = f.newBoard(h, f.counted)
	}
}

// expect puts the times still to come over the courses that the room may take,
// where there is a forecast. The seed is fixed: the same history gives the same
// times.
func (f *followed) expect(now time.Time, h *history, s *sky) {
	courses := f.courses(h, s)
	if f.follower == nil || courses == nil {
		return
	}
	for _, spread := range f.follower.Distribution(now, courses, forecastSeed) {
		if e := &f.estimates[spread.Stage]; !e.Reached {
			f.spreadOver(e, &spread)
		}
	}
}

// spreadOver takes a stage's times from the courses. Where some of them never
// get there, the end is open; where most do not, there is no likely time.
func (f *followed) spreadOver(e *drying.Estimate, s *drying.Spread) {
	e.Low, e.Likely, e.High = s.P10, s.P50, s.P90
	if !e.High.IsZero() {
		return
	}
	end := f.Applied.Add(drying.Horizon)
	never := 100 * (1 - s.By(end))
	e.Blocked = append(slices.Clone(e.Blocked), drying.Reason{
		Code: "never", Value: never, Unit: "%",
		Text: fmt.Sprintf("in %.0f of 100 courses that the room may take, it does not get there", never),
	})
	if !e.Likely.IsZero() {
		e.High = end
	}
}

// promiseAfter is how long after its coat a time counts as told: by then the
// film has met the room.
const promiseAfter = 30 * time.Minute

// promise works out, once, what was told of the coat at first. It is reckoned
// from the history alone, so that it is the same after a restart.
func (f *followed) promise(h *history, now time.Time, ahead bool) {
	at := f.Applied.Add(promiseAfter)
	if len(f.promised) > 0 || now.Before(at) {
		return
	}
	then := &followed{Job: f.Job}
	then.reckon(h, at)
	if ahead {
		then.expect(at, h, (&weather{}).over(f.Probe, h, at))
	}
	f.promised = then.estimates
}

// recoatBy is when to have put on the next coat, at the latest; zero where the
// label has no such limit. A warm room brings it nearer; no room puts it off
// beyond the label's own time.
func (f *followed) recoatBy() time.Time {
	if f.Product.Stated.RecoatBy == 0 {
		return time.Time{}
	}
	label := f.Applied.Add(f.Product.Stated.RecoatBy)
	if by := f.window.Low; by.Before(label) {
		return by
	}
	return label
}

// open reports whether the film can still be harmed by the room: it is not yet
// tack-free.
func (f *followed) open() bool {
	e, ok := find(f.estimates, drying.TackFree)
	return ok && !e.Reached
}
