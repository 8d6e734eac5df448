package room

import (
	"slices"
	"sort"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// slotWidth is the grid on which a room remembers its conditions.
const slotWidth = time.Minute

// keep is how long a room remembers without an open coat that began earlier.
const keep = 8 * 24 * time.Hour

// cell is the last good value of one channel within a slot. Where several
// channels could fill it (two nodes in a room, two chips on a node) the one of
// lowest rank does, so that the outcome does not depend on who came first.
type cell struct {
	value float64
	at    time.Time // zero: nothing good
	rank  string    // node and probe
}

func (c *cell) offer(value float64, at time.Time, rank string) {
	switch {
	case c.at.IsZero(), rank < c.rank, rank == c.rank && at.After(c.at):
		*c = cell{value: value, at: at, rank: rank}
	}
}

func (c cell) known() bool { return !c.at.IsZero() }

// slot is what the room was like in one minute.
type slot struct {
	start    time.Time
	air      cell
	humidity cell
	pressure cell
	speed    cell
	surfaces map[string]cell // by probe
}

// history is a room's conditions on a grid of minutes, oldest first. A slot
// holds the last good values of its minute, so that rounds may come late,
// doubled or in any order and leave the same history.
type history struct{ slots []slot }

// add puts a round's good values into its slot.
func (h *history) add(r sensors.Round) {
	s := h.at(r.Time.Truncate(slotWidth))
	for _, x := range r.Readings {
		if x.Quality != sensors.Good {
			continue
		}
		rank := r.Node + "/" + x.Channel.Probe
		switch x.Channel.Quantity {
		case sensors.AirTemperature:
			s.air.offer(x.Value, r.Time, rank)
		case sensors.AirHumidity:
			s.humidity.offer(x.Value, r.Time, rank)
		case sensors.AirPressure:
			s.pressure.offer(x.Value, r.Time, rank)
		case sensors.AirSpeed:
			s.speed.offer(x.Value, r.Time, rank)
		case sensors.SurfaceTemperature:
			c := s.surfaces[x.Channel.Probe]
			c.offer(x.Value, r.Time, rank)
			if s.surfaces == nil {
				s.surfaces = map[string]cell{}
			}
			s.surfaces[x.Channel.Probe] = c
		}
	}
}

// at returns the slot that starts at start, made if need be.
func (h *history) at(start time.Time) *slot {
	i := len(h.slots)
	if i > 0 && !h.slots[i-1].start.Before(start) {
		i = sort.Search(len(h.slots), func(i int) bool { return !h.slots[i].start.Before(start) })
	}
	if i == len(h.slots) || !h.slots[i].start.Equal(start) {
		h.slots = slices.Insert(h.slots, i, slot{start: start})
	}
	return &h.slots[i]
}

// since returns the slots that start at t or later.
func (h *history) since(t time.Time) []slot {
	i := sort.Search(len(h.slots), func(i int) bool { return !h.slots[i].start.Before(t) })
	return h.slots[i:]
}

// forget drops the slots that start before t.
func (h *history) forget(t time.Time) {
	if n := len(h.slots) - len(h.since(t)); n > 0 {
		h.slots = append(h.slots[:0:0], h.slots[n:]...)
	}
}

// conditions returns the slot's conditions for something whose surface is the
// named probe's, or the air's where probe is empty or silent. It is false where
// air and humidity are not both known.
func (s *slot) conditions(probe string) (drying.Conditions, bool) {
	if !s.air.known() || !s.humidity.known() {
		return drying.Conditions{}, false
	}
	c := drying.Conditions{
		Air:      sensors.Celsius(s.air.value),
		Humidity: sensors.RelativeHumidity(s.humidity.value),
		Surface:  sensors.Celsius(s.air.value),
		Pressure: sensors.Pascals(s.pressure.value),
		AirSpeed: sensors.MetresPerSecond(s.speed.value),
	}
	if surface := s.surfaces[probe]; surface.known() {
		c.Surface, c.SurfaceMeasured = sensors.Celsius(surface.value), true
	}
	return c, true
}

// probes lists the surface probes heard since t, in order of name.
func (h *history) probes(since time.Time) []string {
	seen := map[string]bool{}
	var names []string
	for _, s := range h.since(since) {
		for p := range s.surfaces {
			if !seen[p] {
				seen[p] = true
				names = append(names, p)
			}
		}
	}
	slices.Sort(names)
	return names
}
