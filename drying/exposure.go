package drying

import (
	"time"

	"recoat/sensors"
)

// Exposed is what a piece was exposed to over a time, against limits.
type Exposed struct {
	From, To time.Time
	// Covered is how much of the time there are readings for. Everything else
	// is said of that part only.
	Covered        time.Duration
	MinDewMargin   sensors.Kelvins
	MinDewMarginAt time.Time // zero where nothing is covered
	Outside        []Outside // one for every limit, broken or not
}

// Outside is how long, and how badly, one limit was broken.
type Outside struct {
	Code     string // as in a Reason
	Limit    float64
	Unit     string
	Duration time.Duration
	Worst    float64   // the value furthest outside; zero while Duration is
	Since    time.Time // when the limit was first broken
}

// Exposure sums up the samples between two instants. The samples have to be in
// order of time, and stand as they do for Follow.
func Exposure(samples []Sample, l Limits, from, to time.Time) Exposed {
	bounds := boundsOf(l, roomBand, false)
	e := Exposed{From: from, To: to, Outside: make([]Outside, len(bounds))}
	for i := range bounds {
		e.Outside[i] = Outside{Code: bounds[i].code, Limit: bounds[i].limit, Unit: bounds[i].unit}
	}
	stretches(samples, from, to, func(s stretch) {
		if s.ok && s.c.Check() == nil {
			e.add(bounds, s)
		}
	})
	return e
}

func (e *Exposed) add(bounds []bound, s stretch) {
	m := newMoist(s.c, 0)
	lasted := s.to.Sub(s.from)
	e.Covered += lasted
	if margin := sensors.Kelvins(m.surface - m.dew()); e.MinDewMarginAt.IsZero() || margin < e.MinDewMargin {
		e.MinDewMargin, e.MinDewMarginAt = margin, s.from
	}
	for i := range bounds {
		if bounds[i].broken(&m) {
			e.Outside[i].add(&bounds[i], bounds[i].value(&m), s.from, lasted)
		}
	}
}

func (o *Outside) add(b *bound, v float64, at time.Time, lasted time.Duration) {
	if o.Since.IsZero() {
		o.Since = at
	}
	if o.Duration == 0 || b.margin(v) < b.margin(o.Worst) {
		o.Worst = v
	}
	o.Duration += lasted
}
