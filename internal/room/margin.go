package room

import (
	"math"
	"slices"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// The band of dew margins that a snapshot holds: so far back and so far ahead,
// in steps of marginStep.
const (
	marginBack  = 6 * time.Hour
	marginAhead = 36 * time.Hour
	marginStep  = 20 * time.Minute
)

// margins returns the room's dew margin, past and projected, at the coldest
// measured surface, or at the air where none is measured.
func (r *Room) margins() []MarginPoint {
	now := r.now.Wall
	points := r.history.pastMargins(now)
	if ahead := r.weather.over(coldestSurface, &r.history, now).margins(now, now.Add(marginAhead)); len(ahead) > 0 {
		return append(points, ahead...)
	}
	return append(points, r.history.strayingMargins(now)...)
}

func (h *history) pastMargins(now time.Time) []MarginPoint {
	past := h.marginSeries(now)
	var points []MarginPoint
	for at := now.Add(-marginBack).Truncate(marginStep); !at.After(now); at = at.Add(marginStep) {
		points = append(points, past.point(at))
	}
	return points
}

// strayingMargins stand in where there is no forecast yet. They say only what a
// careful person would: the last value stays, and strays from there as it has
// strayed in this room's own history over the same span (10th and 90th
// percentile).
func (h *history) strayingMargins(now time.Time) []MarginPoint {
	last, ok := h.lastMargin(now)
	if !ok {
		return nil
	}
	past := h.marginSeries(now)
	var points []MarginPoint
	for ahead := marginStep; ahead <= marginAhead; ahead += marginStep {
		low, high := past.strays(ahead)
		points = append(points, MarginPoint{
			At: now.Add(ahead), Margin: last,
			Low: last + low, High: last + high,
			Projected: true, Known: true,
		})
	}
	return points
}

// lastMargin returns the newest dew margin, unless that is of long ago.
func (h *history) lastMargin(now time.Time) (sensors.Kelvins, bool) {
	for _, slot := range slices.Backward(h.since(now.Add(-readingLife).Truncate(slotWidth))) {
		if m, ok := slot.margin(); ok && !slot.start.After(now) {
			return m, true
		}
	}
	return 0, false
}

// series is the dew margin on a grid of marginStep; NaN where it is not known.
type series struct {
	first  time.Time
	values []float64
}

func (h *history) marginSeries(now time.Time) series {
	first := now.Add(-keep).Truncate(marginStep)
	s := series{first: first, values: make([]float64, int(now.Sub(first)/marginStep)+1)}
	for i := range s.values {
		s.values[i] = math.NaN()
	}
	for i := range h.slots {
		slot := &h.slots[i]
		at := int(slot.start.Sub(first) / marginStep)
		if slot.start.Before(first) || at >= len(s.values) {
			continue
		}
		if m, ok := slot.margin(); ok {
			s.values[at] = float64(m)
		}
	}
	return s
}

func (s series) point(at time.Time) MarginPoint {
	i := int(at.Sub(s.first) / marginStep)
	if i < 0 || i >= len(s.values) || math.IsNaN(s.values[i]) {
		return MarginPoint{At: at}
	}
	m := sensors.Kelvins(s.values[i])
	return MarginPoint{At: at, Margin: m, Low: m, High: m, Known: true}
}

// youngRoom is how far a margin is let to stray per square root of an hour
// where the room's own history is too short to say. A judgement, no source.
const youngRoom = 1.2

// fewestStrays is how many pairs of values make a percentile worth taking.
const fewestStrays = 36

// strays returns the 10th and 90th percentile of the change of the margin over
// a span, from the room's own history.
func (s series) strays(span time.Duration) (low, high sensors.Kelvins) {
	lag := int(span / marginStep)
	var changes []float64
	for i := lag; i < len(s.values); i++ {
		if d := s.values[i] - s.values[i-lag]; !math.IsNaN(d) {
			changes = append(changes, d)
		}
	}
	wide := sensors.Kelvins(youngRoom * math.Sqrt(span.Hours()))
	if len(changes) < fewestStrays {
		return -wide, wide
	}
	slices.Sort(changes)
	n := float64(len(changes) - 1)
	return sensors.Kelvins(changes[int(0.1*n)]), sensors.Kelvins(changes[int(math.Ceil(0.9*n))])
}

// margin returns the slot's dew margin at its coldest surface.
func (s *slot) margin() (sensors.Kelvins, bool) {
	c, ok := s.coldest()
	if !ok {
		return 0, false
	}
	m := c.Surface.Sub(air.DewPoint(c.Air, c.Humidity))
	return m, sensors.IsFinite(float64(m))
}
