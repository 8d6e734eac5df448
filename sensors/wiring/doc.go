// Package wiring finds out which sensors a node has, and puts a guard before
// each: the real ones of this machine, or emulated chips in a simulated room,
// read by the very same drivers.
package wiring

import "recoat/sensors/poll"

// Sensors are a node's guarded sources. Close lets go of the buses.
type Sensors struct {
	Guards []*poll.Guard
	Close  func() error

	// Failures say what is there, or was named, and cannot be used. The rest
	// works without it.
	Failures []error
}
