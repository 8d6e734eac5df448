package room

import (
	"slices"
	"sort"
	"time"

	"recoat/drying/odour"
	"recoat/sensors"
)

// vapourWidth is the grid on which a room remembers its VOC index: smell goes
// over days.
const vapourWidth = 10 * time.Minute

// vapours is a room's VOC index, oldest first. Like a slot it holds the last
// good value of its time, by the channel that speaks before the others.
type vapours []vapour

type vapour struct {
	start time.Time
	cell  cell
}

// add takes in a round's good value, in any order.
func (v *vapours) add(r sensors.Round) {
	for _, x := range r.Readings {
		if x.Channel.Quantity != sensors.VOCIndex || x.Quality != sensors.Good {
			continue
		}
		start := r.Time.Truncate(vapourWidth)
		i := v.from(start)
		if i == len(*v) || !(*v)[i].start.Equal(start) {
			*v = slices.Insert(*v, i, vapour{start: start})
		}
		(*v)[i].cell.offer(cell{value: x.Value, at: r.Time.UnixNano(), from: placeOf(rank{r.Node, x.Channel.Probe})})
	}
}

// from returns the place of the first that starts at t or later.
func (v vapours) from(t time.Time) int {
	return sort.Search(len(v), func(i int) bool { return !v[i].start.Before(t) })
}

// forget drops those that start before t.
func (v *vapours) forget(t time.Time) {
	if n := v.from(t); n > 0 {
		*v = append((*v)[:0:0], (*v)[n:]...)
	}
}

// indices returns the values up to an instant as the odour's estimate takes
// them.
func (v vapours) indices(until time.Time) []odour.Index {
	var all []odour.Index
	for _, x := range v {
		if x.start.After(until) {
			break
		}
		all = append(all, odour.Index{At: x.start.Add(vapourWidth / 2), Value: x.cell.value})
	}
	return all
}
