package wiring

import (
	"slices"
	"sync"

	"recoat/sensors"
)

// channels is the set of those that have a source. The looks of several buses
// use it at once.
type channels struct {
	mu    sync.Mutex
	taken map[sensors.Channel]bool
}

// claim takes a source's channels, under the name of a probe where it has one
// already in common with another source, or gives the temperature of a surface:
// the pieces are told apart by it. It returns the name, empty where none is
// needed.
func (c *channels) claim(list []sensors.Channel, probe string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !slices.ContainsFunc(list, func(x sensors.Channel) bool { return x.Quantity == sensors.SurfaceTemperature || c.taken[x] }) {
		probe = ""
	}
	c.set(named(list, probe), true)
	return probe
}

// take takes channels as they are named, all or none, and reports whether none
// had another source.
func (c *channels) take(list []sensors.Channel) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if slices.ContainsFunc(list, func(x sensors.Channel) bool { return c.taken[x] }) {
		return false
	}
	c.set(list, true)
	return true
}

// free gives channels back: their source is gone for another.
func (c *channels) free(list []sensors.Channel) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.set(list, false)
}

// set is called with mu held.
func (c *channels) set(list []sensors.Channel, taken bool) {
	if c.taken == nil {
		c.taken = map[sensors.Channel]bool{}
	}
	for _, x := range list {
		c.taken[x] = taken
	}
}
