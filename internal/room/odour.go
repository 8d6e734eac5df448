package room

import (
	"time"

	"recoat/drying"
	"recoat/drying/odour"
)

// airStep is how closely the air is looked at for a coat's smell, which goes
// over days.
const airStep = time.Hour

// odourNow estimates when a coat is likely without smell, nil where nothing can
// be said.
func (f *followed) odourNow(h *history, now time.Time) *odour.Ready {
	var temperatures []odour.Air
	due := f.Applied
	take := func(at time.Time, c drying.Conditions) {
		if !at.After(now) && !at.Before(due) {
			temperatures = append(temperatures, odour.Air{At: at, Temperature: c.Air})
			due = at.Add(airStep)
		}
	}
	for _, s := range f.Earlier {
		take(s.At, s.Conditions)
	}
	for _, s := range h.since(later(f.Applied, f.Since).Truncate(slotWidth)) {
		if c, ok := s.on(""); ok {
			take(s.start, c)
		}
	}
	ready, err := odour.Estimate(odour.Coat{
		Product: f.Product, Applied: f.Applied, Air: temperatures, Index: h.vapours.indices(now),
	}, now)
	if err != nil {
		return nil
	}
	return &ready
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
