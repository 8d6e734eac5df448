package drying

import (
	"fmt"
	"math"
	"time"
)

// Horizon is how far ahead a stage is looked for.
const Horizon = 180 * day

// projectedSpread is what projected conditions add to the spread. Judgement.
const projectedSpread = 0.25

// project counts on from now through what is expected, or else held.
func (r *run) project(now time.Time, ahead Outlook, held *Conditions) {
	at := max(now.Sub(r.applied), 0)
	end := at + Horizon
	for step := time.Minute; at < end && !r.done(); step = min(step+step/8, 30*time.Minute) {
		c, ok := expected(ahead, r.applied.Add(at+step/2))
		if !ok && held != nil {
			c, ok = *held, true
		}
		next := at + step
		switch {
		case !ok:
			r.lose(at, errNoReadings)
		case r.see(at, &c):
			r.count(at, next, r.now.variance+projectedSpread*projectedSpread)
		}
		if r.why != nil && len(r.tracks) == 1 && r.tracks[0].deadline {
			r.skip(at, next)
		}
		at = next
	}
}

func expected(ahead Outlook, at time.Time) (Conditions, bool) {
	if ahead == nil {
		return Conditions{}, false
	}
	c, ok := ahead(at)
	return c, ok && c.Check() == nil
}

// forecast adds to an estimate what the projection found. A High beyond the
// horizon is put a horizon after Likely.
func (r *run) forecast(i int, e *Estimate) {
	t := &r.tracks[i]
	if math.IsNaN(t.likely) {
		e.Blocked = append(e.Blocked, r.never(e.Blocked)...)
		return
	}
	e.Low, e.Likely = r.instant(t.low), r.instant(t.likely)
	if e.High = e.Likely.Add(Horizon); t.done() {
		e.High = r.instant(t.high)
	}
}

// never says why a stage is not reached within the horizon, where what stops
// the clock now does not say it already. Only a reason from a limit has a unit.
func (r *run) never(now []Reason) []Reason {
	if len(now) > 0 && now[0].Unit != "" {
		return nil
	}
	if !r.now.known {
		if len(now) > 0 {
			return nil
		}
		return []Reason{unknownReason(errNoReadings)}
	}
	if all := r.m.reasons(&r.now); len(all) > 0 {
		return all
	}
	days := Horizon.Hours() / 24
	return []Reason{{Code: "slow", Value: days, Limit: days, Unit: "d",
		Text: fmt.Sprintf("not within %.0f days, by what is known of the room", days)}}
}

func (r *run) instant(seconds float64) time.Time {
	return r.applied.Add(time.Duration(math.Round(seconds * float64(time.Second))))
}
