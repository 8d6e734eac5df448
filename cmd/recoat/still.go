package main

import (
	"time"

	"recoat/sensors/poll"
)

// now is the time of the house: the machine's, or where a simulated room's clock
// was told to stand.
func (h *house) now() time.Time {
	if h.still.IsZero() {
		return time.Now()
	}
	return h.still
}

// standing is the clock of a simulated node whose time does not go on.
type standing struct{ began, at time.Time }

// Now is always the same instant.
func (s standing) Now() poll.Instant {
	return poll.Instant{Wall: s.at, Uptime: s.at.Sub(s.began), Set: true}
}
