package odour

import (
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// reference is the temperature at which the smells' figures hold.
const reference sensors.Celsius = 23

// energy is that of what brings smell out of a film, J/mol: near the heat of
// vaporisation of decane (51 kJ/mol, NIST WebBook, from memory) and the
// oxidation energy of package drying. Half as fast for each 10 K colder.
const energy = 50e3

// gas is the molar gas constant, J/(mol·K) (SI brochure, 9th edition).
const gas = 8.31446261815324

// rate returns how fast a smell goes, against that at 23 °C.
func rate(t sensors.Celsius) float64 {
	return math.Exp(energy / gas * (1/reference.Absolute() - 1/t.Absolute()))
}

// coldest and hottest are what a room can be, °C: other values are passed over.
const (
	coldest sensors.Celsius = -40
	hottest sensors.Celsius = 60
)

// history is the air since a coat was put on.
type history struct {
	applied, now time.Time
	air          []Air
	held         sensors.Celsius // from now on
}

// newHistory takes what can be used of a coat's temperatures. What is to come is
// taken as the mean of the last day.
func newHistory(c *Coat, label sensors.Celsius, now time.Time) *history {
	h := &history{applied: c.Applied, now: now, held: label}
	for _, a := range c.Air {
		inOrder := len(h.air) == 0 || a.At.After(h.air[len(h.air)-1].At)
		if inOrder && !a.At.After(now) && a.Temperature >= coldest && a.Temperature <= hottest {
			h.air = append(h.air, a)
		}
	}
	if len(h.air) > 0 {
		h.held = h.mean(now.Add(-24*time.Hour), now)
	}
	return h
}

// stretches gives the temperatures between two instants, not later than now.
func (h *history) stretches(from, to time.Time, each func(from, to time.Time, t sensors.Celsius)) {
	for i, a := range h.air {
		start, end := from, to
		if i > 0 && a.At.After(from) {
			start = a.At
		}
		if i+1 < len(h.air) && h.air[i+1].At.Before(to) {
			end = h.air[i+1].At
		}
		if end.After(start) {
			each(start, end, a.Temperature)
		}
	}
}

// mean returns the mean temperature between two instants.
func (h *history) mean(from, to time.Time) sensors.Celsius {
	var sum, hours float64
	h.stretches(from, to, func(from, to time.Time, t sensors.Celsius) {
		hours += to.Sub(from).Hours()
		sum += float64(t) * to.Sub(from).Hours()
	})
	if hours == 0 {
		return h.air[len(h.air)-1].Temperature
	}
	return sensors.Celsius(sum / hours)
}

// after returns when a coat has had as much as so many hours at 23 °C.
func (h *history) after(hours float64) time.Time {
	at, when := h.applied, time.Time{}
	h.stretches(h.applied, h.now, func(from, to time.Time, t sensors.Celsius) {
		if !when.IsZero() {
			return
		}
		had := rate(t) * to.Sub(from).Hours()
		if had >= hours {
			when = from.Add(clock(hours / rate(t)))
			return
		}
		hours -= had
		at = to
	})
	if when.IsZero() {
		when = at.Add(clock(hours / rate(h.held)))
	}
	return when
}

func clock(hours float64) time.Duration { return time.Duration(hours * float64(time.Hour)) }

func (h *history) basis() string {
	switch {
	case len(h.air) == 0:
		return fmt.Sprintf("the label's %.0f °C, for nothing is known of the room", h.held)
	case h.now.After(h.applied):
		return fmt.Sprintf("air of %.0f °C on average since it was put on", h.mean(h.applied, h.now))
	}
	return fmt.Sprintf("air of %.0f °C", h.held)
}
