package drying

import (
	"math"
	"time"
)

// Finding is something that happened to a fresh coat and may show in it.
type Finding struct {
	// Code is "blush" (solvent left so fast, in air so damp, that water may
	// have settled in the film), "condensation" (the surface was at or below
	// the dew point), "film-cold" (too cold for the film to form) or "stalled"
	// (the clock stood still).
	Code     string
	From, To time.Time // From is in whole minutes
	// Worst is the reading furthest beyond its limit; for a stall, among those
	// for the reason with which it began.
	Worst Reason
}

// findingGap is how short a pause joins two findings of a kind into one.
const findingGap = 10 * time.Minute

// Findings returns what happened to a coat in the samples until it was dry to
// recoat, by the model, in order of beginning.
func Findings(coat Coat, samples []Sample) []Finding {
	m, err := newCoatModel(coat)
	if err != nil || len(samples) == 0 {
		return nil
	}
	r := newRun(m, coat.Applied)
	r.tracks = []track{newTrack(DryToRecoat, m.product.Stated.Times[DryToRecoat], m.learnt.factor(), 0)}
	found := episodes{}
	end := samples[len(samples)-1].At.Add(standsFor(samples))
	stretches(samples, coat.Applied, end, func(s stretch) {
		from, to := s.from.Sub(coat.Applied), s.to.Sub(coat.Applied)
		switch {
		case r.tracks[0].reached():
		case !s.ok:
			r.miss(from, to, errNoReadings)
		default:
			if r.take(from, to, &s.c); r.why == nil {
				found.see(m, &r.now, s)
			}
		}
	})
	return found
}

// episodes are findings on their way, in order of beginning.
type episodes []Finding

func (e *episodes) see(m *model, now *moment, s stretch) {
	if r, wet := condensation(&now.moist); wet {
		e.note("condensation", s, r)
	}
	stalled := false
	for i := range m.bounds {
		b := &m.bounds[i]
		if !b.broken(&now.moist) {
			continue
		}
		r := b.reason(&now.moist, 0, m.product.IsAssumed(b.key))
		if b.code == "blush" || b.code == "film-cold" {
			e.note(b.code, s, r)
		}
		if !b.idle && !stalled {
			stalled = true
			e.note("stalled", s, r)
		}
	}
}

// condensation reports whether water settles on the surface.
func condensation(m *moist) (Reason, bool) {
	b := bound{code: "condensation", noun: "The dew margin"}.aboveDew(surfaceOf)
	return b.reason(m, 0, false), b.value(m) <= 0
}

// note extends the latest finding of the code, or begins another.
func (e *episodes) note(code string, s stretch, r Reason) {
	for i := len(*e) - 1; i >= 0; i-- {
		f := &(*e)[i]
		if f.Code != code {
			continue
		}
		if s.from.Sub(f.To) > findingGap {
			break
		}
		f.To = s.to
		if r.Code == f.Worst.Code && beyond(r) > beyond(f.Worst) {
			f.Worst = r
		}
		return
	}
	*e = append(*e, Finding{Code: code, From: s.from.Truncate(time.Minute), To: s.to, Worst: r})
}

// beyond is how far a reading that broke its limit is outside it.
func beyond(r Reason) float64 { return math.Abs(r.Value - r.Limit) }
