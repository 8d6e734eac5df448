package room

import (
	"cmp"
	"slices"
	"sort"
	"time"
	"unique"

	"recoat/drying"
	"recoat/sensors"
)

// slotWidth is the grid on which a room remembers its conditions.
const slotWidth = time.Minute

// keep is how long a room remembers without an open coat that began earlier.
const keep = 21 * 24 * time.Hour

// rank orders the channels that measure the same: the one of lowest rank
// speaks, so that the outcome does not depend on who came first.
type rank struct{ node, probe string }

func (r rank) before(o rank) bool {
	return cmp.Or(cmp.Compare(r.node, o.node), cmp.Compare(r.probe, o.probe)) < 0
}

// place is a rank held once for all that name it: a history names it in every
// minute. The zero place is none.
type place struct{ unique.Handle[rank] }

func placeOf(r rank) place { return place{unique.Make(r)} }

// cell is the last good value of one channel within a slot. A history of weeks
// has a hundred thousand of these.
type cell struct {
	value float64
	at    int64 // Unix time, nanoseconds
	from  place // none: nothing good
}

// offer puts o in the cell's place where it speaks before it, and reports
// whether that changes anything.
func (c *cell) offer(o cell) bool {
	newer := o.at > c.at || o.at == c.at && o.value > c.value
	if c.known() && (o.from != c.from || !newer) && !o.from.Value().before(c.from.Value()) {
		return false
	}
	*c = o
	return true
}

func (c cell) known() bool { return c.from != place{} }

// airs is the air at one place.
type airs struct {
	from                  place
	temperature, humidity cell
}

// slot is what the room was like in one minute.
type slot struct {
	start    time.Time
	airs     []airs // by rank: temperature and humidity of two places make no air
	pressure cell
	speed    cell
	surfaces []cell // by probe, one of each; a map would take ten times the room
}

// history is a room's conditions on a grid of minutes, oldest first. A slot
// holds the last good values of its minute, so that rounds may come late,
// doubled or in any order and leave the same history.
type history struct {
	slots   []slot
	vapours vapours
}

// add puts a round's good values into its slot, and reports whether that changes
// anything (a round that comes again does not) and whether the slot is new.
func (h *history) add(r sensors.Round) (changed, fresh bool) {
	h.vapours.add(r)
	before := len(h.slots)
	s := h.at(r.Time.Truncate(slotWidth))
	fresh = len(h.slots) > before
	for _, x := range r.Readings {
		if x.Quality != sensors.Good {
			continue
		}
		c := cell{value: x.Value, at: r.Time.UnixNano(), from: placeOf(rank{r.Node, x.Channel.Probe})}
		switch x.Channel.Quantity {
		case sensors.AirTemperature:
			changed = s.airAt(c.from).temperature.offer(c) || changed
		case sensors.AirHumidity:
			changed = s.airAt(c.from).humidity.offer(c) || changed
		case sensors.AirPressure:
			changed = s.pressure.offer(c) || changed
		case sensors.AirSpeed:
			changed = s.speed.offer(c) || changed
		case sensors.SurfaceTemperature:
			changed = s.surface(x.Channel.Probe, c) || changed
		}
	}
	return changed || fresh, fresh
}

// airAt returns the air at one place, made if need be.
func (s *slot) airAt(p place) *airs {
	r := p.Value()
	i := sort.Search(len(s.airs), func(i int) bool { return !s.airs[i].from.Value().before(r) })
	if i == len(s.airs) || s.airs[i].from != p {
		s.airs = slices.Insert(s.airs, i, airs{from: p})
	}
	return &s.airs[i]
}

func (s *slot) surface(probe string, c cell) bool {
	i := s.seek(probe)
	if i == len(s.surfaces) || s.surfaces[i].from.Value().probe != probe {
		s.surfaces = slices.Insert(s.surfaces, i, c)
		return true
	}
	return s.surfaces[i].offer(c)
}

// seek returns where the surface of a probe is, or would be.
func (s *slot) seek(probe string) int {
	return sort.Search(len(s.surfaces), func(i int) bool { return s.surfaces[i].from.Value().probe >= probe })
}

// surfaceOf is empty where the probe said nothing good.
func (s *slot) surfaceOf(probe string) cell {
	if i := s.seek(probe); i < len(s.surfaces) && s.surfaces[i].from.Value().probe == probe {
		return s.surfaces[i]
	}
	return cell{}
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

// unsmelt is how long before a coat the VOC index is still asked for: how the
// room smells without it.
const unsmelt = 24 * time.Hour

// forget drops the slots that start before t.
func (h *history) forget(t time.Time) {
	h.vapours.forget(t.Add(-unsmelt))
	if n := len(h.slots) - len(h.since(t)); n > 0 {
		h.slots = append(h.slots[:0:0], h.slots[n:]...)
	}
}

// on returns the slot's conditions for something whose surface is the named
// probe's, or the air's where probe is empty or silent. It is false where the
// air is not known: temperature and humidity at one place.
func (s *slot) on(probe string) (drying.Conditions, bool) {
	if probe == "" {
		return s.over(cell{})
	}
	return s.over(s.surfaceOf(probe))
}

// coldest returns the slot's conditions at its coldest measured surface, or at
// the air where none is measured.
func (s *slot) coldest() (drying.Conditions, bool) {
	var least cell
	for _, c := range s.surfaces {
		if !least.known() || c.value < least.value {
			least = c
		}
	}
	return s.over(least)
}

func (s *slot) over(surface cell) (drying.Conditions, bool) {
	for _, a := range s.airs {
		if !a.temperature.known() || !a.humidity.known() {
			continue
		}
		c := drying.Conditions{
			Air:      sensors.Celsius(a.temperature.value),
			Humidity: sensors.RelativeHumidity(a.humidity.value),
			Surface:  sensors.Celsius(a.temperature.value),
			Pressure: sensors.Pascals(s.pressure.value),
			AirSpeed: sensors.MetresPerSecond(s.speed.value),
		}
		if surface.known() {
			c.Surface, c.SurfaceMeasured = sensors.Celsius(surface.value), true
		}
		return c, true
	}
	return drying.Conditions{}, false
}
