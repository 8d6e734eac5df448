// Package wiring finds out which sensors a node has, bus by bus, and puts a
// guard before each: the real ones of this machine, or emulated chips in a
// simulated room, read by the very same drivers.
package wiring

import (
	"slices"

	"recoat/sensors/poll"
)

// Sensors are a node's guarded sources. Close lets go of the buses.
type Sensors struct {
	Buses []*poll.Bus
	Close func() error

	// Failures say what is there, or was named, and cannot be used. The rest
	// works without it.
	Failures []error
}

// Guards lists every source of every bus, as far as is known by now.
func (s Sensors) Guards() []*poll.Guard {
	var all [][]*poll.Guard
	for _, b := range s.Buses {
		all = append(all, b.Guards())
	}
	return slices.Concat(all...)
}
