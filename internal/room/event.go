package room

import (
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Event is something that happened to a room.
type Event interface{ event() }

// Arrived is a round of readings that a node of the room sent.
type Arrived struct {
	At    alert.Instant // when it was received
	Round sensors.Round
}

// Queued is a round with others right behind it: it is taken in, and reckoned with
// the next that Arrived, or at the next tick.
type Queued struct{ Arrived }

// Recalled is a round from the store: history alone, nobody is told of it.
type Recalled struct{ Round sensors.Round }

// Described brings what a room is called and the limits of its own, as the
// journal has them.
type Described struct {
	Title  string
	Limits drying.Limits // zero: the usual ones
}

// JobsChanged brings every coat of the room that is still followed.
type JobsChanged struct{ Jobs []Job }

// Tick is the passing of time.
type Tick struct{ At alert.Instant }

// Reported is that a node's connection came or went, as the broker tells it.
type Reported struct {
	At     alert.Instant // when the hub was told
	Node   string
	Online bool
	// Boot and Clock are which start of its machine the node is in and what its
	// clock showed when it said so; empty where that was not just now.
	Boot  string
	Clock time.Time
}

// Seen is a person's acknowledgement of an alert.
type Seen struct {
	At      alert.Instant
	Episode string
}

// Snoozed puts an alert off until an instant.
type Snoozed struct {
	At      alert.Instant
	Episode string
	Until   time.Time
}

// Wished brings every wish to be told, of this room, that waits.
type Wished struct{ Wishes []alert.Wish }

// BareChanged brings the parts of the room that wait for their first coat and
// have a probe.
type BareChanged struct{ Parts []Bare }

func (Arrived) event()     {}
func (Recalled) event()    {}
func (Described) event()   {}
func (JobsChanged) event() {}
func (Tick) event()        {}
func (Seen) event()        {}
func (Snoozed) event()     {}
func (Wished) event()      {}
func (BareChanged) event() {}
func (Reported) event()    {}

// Effect is something that others must do.
type Effect interface{ effect() }

// Notify asks for transitions to be recorded, and told where they have a cause.
type Notify struct{ Transitions []alert.Transition }

// Show says that there is a new snapshot.
type Show struct{}

// Reload asks for the room's history to be read from the store anew: a node's
// clock was set, and rounds already counted have come again with other times.
type Reload struct{}

func (Notify) effect() {}
func (Show) effect()   {}
func (Reload) effect() {}
