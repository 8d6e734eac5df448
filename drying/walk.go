package drying

import (
	"slices"
	"time"
)

// walk turns samples into the stretches that a run counts.
type walk struct {
	run
	until  time.Duration // since the coat was applied: counted up to here
	isFull bool          // the latest sample says exactly 100 %
	full   time.Duration // since when
	// recent holds what was measured in the last hour and can be used, and older
	// things that have not been cleared away yet.
	recent []measured
	latest time.Duration // when the latest sample was taken
}

// measured is a sample as a walk keeps it.
type measured struct {
	at time.Duration // since the coat was applied
	Conditions
}

// fullAfter is how long humidity may read exactly 100 % before that is taken
// for a sensor at its stop: air that damp for that long would show a value that
// moves. Common practice, no source.
const fullAfter = time.Hour

// clone returns a walk that can go on by itself, until the original does.
func (w *walk) clone() walk {
	c := *w
	c.run = w.run.clone()
	if len(c.recent) == cap(c.recent) { // keep would clear away in place
		c.recent = slices.Clone(c.recent)
	}
	return c
}

// through counts all samples but the last, whose end is not known.
func (w *walk) through(samples []Sample, stands time.Duration) {
	for i := 1; i < len(samples); i++ {
		w.step(&samples[i-1], samples[i].At.Sub(w.applied), stands)
	}
}

// step counts a sample for as long as it stands, at most up to end, and before
// it what no sample covered.
func (w *walk) step(s *Sample, end, stands time.Duration) {
	on := s.At.Sub(w.applied)
	if on > w.until {
		w.miss(w.until, on, errNoReadings)
	}
	off := min(on+stands, end)
	switch {
	case s.Humidity != 100:
		w.isFull = false
		w.take(on, off, &s.Conditions)
	default:
		w.damp(s, on, off)
	}
	w.until = max(off, w.until)
	w.keep(on, &s.Conditions)
}

// damp counts a sample of exactly 100 %.
func (w *walk) damp(s *Sample, on, off time.Duration) {
	if !w.isFull {
		w.isFull, w.full = true, on
	}
	turns := w.full + fullAfter
	if on < turns {
		w.take(on, min(off, turns), &s.Conditions)
	}
	if off > turns {
		w.miss(max(on, turns), off, errStuck)
		w.recent = nil // the last hour was no better
	}
}

// keep adds a sample to those that a projection holds on to.
func (w *walk) keep(at time.Duration, c *Conditions) {
	if w.latest = at; w.why != nil || at < 0 && c.Check() != nil {
		return
	}
	if n := len(w.recent); n > 0 && n == cap(w.recent) {
		w.recent = append(w.recent[:0], w.lastHour()...)
		w.recent = slices.Grow(w.recent, len(w.recent)+1)
	}
	w.recent = append(w.recent, measured{at, *c})
}

// lastHour returns what can be used of the hour up to the latest sample.
func (w *walk) lastHour() []measured {
	first := len(w.recent)
	for first > 0 && w.latest-w.recent[first-1].at < time.Hour {
		first--
	}
	return w.recent[first:]
}

// rest comes to an instant up to which there are no more samples, which may be
// that at which the coat was applied.
func (w *walk) rest(now time.Duration) {
	if now > w.until || now == 0 && len(w.recent) == 0 && w.why == nil {
		w.miss(w.until, now, errNoReadings)
		w.until = now
	}
}
