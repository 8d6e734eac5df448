package drying

import "math"

// way is how one member of an ensemble comes to a stage.
type way struct {
	label, fixed     float64
	gained, variance float64 // as in a track
	off              float64 // standard deviations by which the member's time is off
	next             float64 // the share below which the stage is not reached
	ready            float64 // s since the coat was applied; +Inf: not yet
}

// begin returns a member's way from where the coat stands, at s since it was
// applied.
func begin(t *track, l luck, at float64) way {
	w := way{
		label: t.label, fixed: t.fixed, gained: t.gained + l.slack*t.slack, variance: t.variance,
		off: l.off, ready: math.Inf(1),
	}
	if t.gained > 0 {
		w.variance *= w.gained / t.gained
	}
	if w.gained > 0 && w.gained >= w.target() {
		w.ready = past(t, w.target(), w.gained, at)
	}
	return w
}

func (w *way) open() bool { return math.IsInf(w.ready, 1) }

// target is the share of the label time at which the member reaches the stage.
func (w *way) target() float64 { return math.Exp(w.off * math.Sqrt(w.variance/w.gained+w.fixed)) }

// advance counts dt seconds from the instant at.
func (w *way) advance(at, dt, gain, variance float64) {
	before := w.gained
	w.gained += gain
	w.variance += variance * gain
	if w.gained < w.next || gain <= 0 {
		return
	}
	target := w.target()
	if w.gained >= target {
		w.ready = at + dt*max((target-before)/gain, 0)
		return
	}
	// The target moves slowly: it is looked at again after a quarter of the way.
	w.next = w.gained + (target-w.gained)/4
}

// far reports whether the stage is still off after so much more is gained.
func (w *way) far(gain float64) bool {
	const drift = 0.98 // the target may come nearer by less than the rest
	return w.gained > 0 && w.gained+gain < drift*w.target()
}

// past returns when a share was passed that the coat left behind before the
// instant at, from the instants that are known.
func past(t *track, share, gained, at float64) float64 {
	known := [...]struct{ share, at float64 }{{1 / t.width(), t.low}, {1, t.likely}, {t.width(), t.high}, {gained, at}}
	shareBefore, before := 0.0, 0.0
	for _, k := range known {
		if math.IsNaN(k.at) || k.share <= shareBefore {
			continue
		}
		if share <= k.share {
			return before + (k.at-before)*(share-shareBefore)/(k.share-shareBefore)
		}
		shareBefore, before = k.share, k.at
	}
	return at
}
