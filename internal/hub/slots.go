package hub

import (
	"sync"
	"time"

	"recoat/internal/telemetry"
)

// slots bound the deliveries that are in the hub's hands and not stored yet.
type slots chan struct{}

// slotWait is how long a delivery waits for one that is stored.
const slotWait = time.Second

// take takes a slot, after a wait if need be, unless waiting is of no use.
func (s slots) take(hopeless bool) bool {
	select {
	case s <- struct{}{}:
		return true
	default:
	}
	if hopeless {
		return false
	}
	timer := time.NewTimer(slotWait)
	defer timer.Stop()
	select {
	case s <- struct{}{}:
		return true
	case <-timer.C:
		return false
	}
}

// hold returns a delivery that gives its slot back once it is dealt with, and what
// gives it back where it is dropped.
func (s slots) hold(d telemetry.Delivery) (held telemetry.Delivery, free func()) {
	free = sync.OnceFunc(func() { <-s })
	stored, refused := d.Stored, d.Refused
	d.Stored = func() { free(); stored() }
	d.Refused = func(why string) {
		free()
		if refused != nil {
			refused(why)
		}
	}
	return d, free
}
