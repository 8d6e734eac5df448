package room

import (
	"time"

	"recoat/drying/odour"
	"recoat/sensors"
)

// airStep is how closely the air is looked at for a coat's smell, which goes
// over days.
const airStep = time.Hour

// odourNow estimates when a coat is likely without smell, nil where nothing can
// be said.
func (f *followed) odourNow(h *history, now time.Time) *odour.Ready {
	var temperatures []odour.Air
	due := f.Applied
	for _, s := range h.since(f.Applied.Truncate(slotWidth)) {
		if s.start.After(now) || s.start.Before(due) {
			continue
		}
		if c, ok := s.on(""); ok {
			temperatures = append(temperatures, odour.Air{At: s.start, Temperature: sensors.Celsius(c.Air)})
			due = s.start.Add(airStep)
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
