package plan

import (
	"fmt"
	"time"
)

// Hours are those of the day in which the finisher works: coats go on and
// sanding is done in them, and drying goes on outside them.
type Hours struct {
	From, To time.Duration // on the clock, since midnight
	Location *time.Location
}

// UsualHours are seven in the morning to nine at night: judgement, for a person
// who finishes furniture at home.
func UsualHours(l *time.Location) Hours {
	return Hours{From: 7 * time.Hour, To: 21 * time.Hour, Location: l}
}

// Check returns what is wrong with the hours, or nil.
func (h Hours) Check() error {
	const day = 24 * time.Hour
	switch {
	case h.Location == nil:
		return fmt.Errorf("working hours have no place on earth: a location would do")
	case h.From < 0 || h.To > day || h.From >= h.To:
		return fmt.Errorf("working hours go from %v to %v: they lie within one day, such as from 7h0m0s to 21h0m0s", h.From, h.To)
	}
	return nil
}

// Next returns the first working instant at t or after it.
func (h Hours) Next(t time.Time) time.Time {
	t = t.In(h.Location)
	for days := 0; ; days++ {
		opens, closes := h.clock(t, days, h.From), h.clock(t, days, h.To)
		switch {
		case t.Before(opens):
			return opens
		case t.Before(closes):
			return t
		}
	}
}

// Has reports whether t is a working instant.
func (h Hours) Has(t time.Time) bool { return h.Next(t).Equal(t) }

// clock returns the instant at which clocks show a time of day, some days
// after t.
func (h Hours) clock(t time.Time, days int, of time.Duration) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d+days, 0, int(of/time.Minute), 0, 0, h.Location)
}
