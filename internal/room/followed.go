package room

import (
	"sort"
	"time"

	"recoat/drying"
)

// followed is a job with what has been reckoned of it.
type followed struct {
	Job
	samples   []drying.Sample // since it was applied, up to the last whole slot
	estimates []drying.Estimate
	window    drying.Estimate // when the recoat window closes
}

func follow(job Job) *followed { return &followed{Job: job} }

// reset drops what was reckoned from history.
func (f *followed) reset() { f.samples = nil }

// staleFrom drops what was reckoned from t on.
func (f *followed) staleFrom(t time.Time) {
	t = t.Truncate(slotWidth)
	n := sort.Search(len(f.samples), func(i int) bool { return !f.samples[i].At.Before(t) })
	f.samples = f.samples[:n]
}

// reckon takes in the history up to now and estimates every stage. What is to
// come is taken to be like the last hour.
func (f *followed) reckon(h *history, now time.Time) {
	from := f.Applied.Truncate(slotWidth)
	if n := len(f.samples); n > 0 {
		from = f.samples[n-1].At.Add(slotWidth)
	}
	for i, slots := 0, h.since(from); i < len(slots) && !slots[i].start.After(now); i++ {
		if c, ok := slots[i].conditions(f.Probe); ok {
			f.samples = append(f.samples, drying.Sample{At: slots[i].start, Conditions: c})
		}
	}
	coat := drying.Coat{Product: f.Product, Applied: f.Applied, Film: f.Film}
	f.estimates = drying.Follow(coat, f.samples, now, nil)
	f.window = drying.Window(coat, f.samples, now, nil)
}

// recoatBy is when to have put on the next coat, at the latest; zero where the
// label has no such limit.
func (f *followed) recoatBy() time.Time { return f.window.Low }

// open reports whether the film can still be harmed by the room: it is not yet
// tack-free.
func (f *followed) open() bool {
	e, ok := find(f.estimates, drying.TackFree)
	return ok && !e.Reached
}
