//go:build !linux

package poll

import "time"

// started stands in for the machine's start: only Linux runs an agent with
// sensors, elsewhere a simulated room needs no more than a clock that goes on.
var started = time.Now()

func uptime() time.Duration { return time.Since(started) }

func synchronised() bool { return true }
