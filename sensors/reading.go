package sensors

import (
	"fmt"
	"time"
)

// Quality says how far a reading can be trusted. Only good readings reach the
// drying model.
type Quality uint8

// The qualities, best first.
const (
	Good         Quality = iota // measured, in range, nothing against it
	Suspect                     // measured, but something speaks against it
	Held                        // measured while the chip was not fit to (a heater pulse, a reset)
	Uncalibrated                // measured by a probe whose check is overdue or failed
	Missing                     // nothing was measured: there is no value, and none is put in its place
)

var qualityNames = [...]string{"good", "suspect", "held", "uncalibrated", "missing"}

// String returns the quality's name.
func (q Quality) String() string {
	if int(q) >= len(qualityNames) {
		return fmt.Sprintf("quality %d", uint8(q))
	}
	return qualityNames[q]
}

// ParseQuality finds a quality by its name.
func ParseQuality(name string) (Quality, error) {
	for i, n := range qualityNames {
		if n == name {
			return Quality(i), nil
		}
	}
	return Missing, fmt.Errorf("no quality is called %q: good, suspect, held, uncalibrated or missing", name)
}

// Reading is the value of one channel at one instant, in the unit of its
// quantity. Value is zero and means nothing where Quality is Missing.
type Reading struct {
	Channel Channel
	Value   float64
	Quality Quality
}

// Round is what one node read at one instant. Node, Boot and Seq are its
// identity: the same round delivered twice is one round, and a round that
// comes again with another Time (the clock was set since) replaces the first.
type Round struct {
	Node     string        // the node's name, unique within its room
	Boot     string        // one start of the node's machine; empty for a foreign device
	Seq      uint64        // counts up from 1 within a boot
	Time     time.Time     // wall clock, to the millisecond
	Uptime   time.Duration // monotonic, since the boot; 0 for a foreign device
	ClockSet bool          // whether the wall clock could be trusted at Time
	Readings []Reading     // at most one of a channel
}

// Value returns the round's good value of a channel, and whether there is one.
func (r Round) Value(c Channel) (float64, bool) {
	for _, x := range r.Readings {
		if x.Channel == c && x.Quality == Good {
			return x.Value, true
		}
	}
	return 0, false
}
