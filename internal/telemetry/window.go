package telemetry

import (
	"time"

	"recoat/sensors"
)

// identity tells the rounds of one node apart.
type identity struct {
	boot string
	seq  uint64
}

// flight is a round that was sent and not yet acknowledged.
type flight struct {
	clockSet bool
	until    time.Time
	taken    <-chan struct{} // closed once the client has done with it
}

// held reports whether the client still owes the broker this publication:
// giving it another copy would only pile them up.
func (f flight) held() bool {
	select {
	case <-f.taken:
		return false
	default:
		return true
	}
}

// window decides which rounds go out next: pure, so that its time is whatever
// it is told.
//
// It sweeps the spool in order with a bounded number in flight. A round that
// is not acknowledged in time gives up its place, and the sweep begins again
// once it has reached the end: so a round the hub will not have holds up no
// other. While nothing at all is acknowledged the hub is away; the first
// acknowledgement after that starts the sweep again at the oldest round.
type window struct {
	limit   int
	wait    time.Duration
	flights map[identity]flight
	cursor  Place // the last round sent in this sweep
	again   bool  // something is to be sent once more
	heard   bool  // something was acknowledged since the last expiry
	quiet   bool  // rounds expired and nothing was acknowledged
}

func newWindow(limit int, wait time.Duration) *window {
	return &window{limit: limit, wait: wait, flights: map[identity]flight{}}
}

// rewind forgets what is in flight and starts at the oldest round.
func (w *window) rewind() {
	clear(w.flights)
	w.cursor, w.again = Place{}, false
}

// free is how many more rounds may be in flight.
func (w *window) free() int { return w.limit - len(w.flights) }

// pass moves the sweep past a round, and reports whether it is to go out: not
// if it is in flight already.
func (w *window) pass(e Entry) bool {
	w.cursor = e.Place
	_, flying := w.flights[identity{e.Round.Boot, e.Round.Seq}]
	return !flying
}

// sent takes note of a round that went out.
func (w *window) sent(r sensors.Round, now time.Time, taken <-chan struct{}) {
	w.flights[identity{r.Boot, r.Seq}] = flight{clockSet: r.ClockSet, until: now.Add(w.wait), taken: taken}
}

// end is told that no round follows the cursor, and reports whether to go
// through them once more.
func (w *window) end() bool {
	again := w.again
	if again {
		w.cursor, w.again = Place{}, false
	}
	return again
}

// expire frees the places of rounds that had their time.
func (w *window) expire(now time.Time) {
	expired := false
	for id, f := range w.flights {
		if !now.Before(f.until) && !f.held() {
			delete(w.flights, id)
			expired = true
		}
	}
	if expired {
		w.again = true
		w.quiet = !w.heard
		w.heard = false
	}
}

// clogged reports whether the client still owes the broker something that has had
// twice its time.
func (w *window) clogged(now time.Time) bool {
	for _, f := range w.flights {
		if now.Sub(f.until) > w.wait && f.held() {
			return true
		}
	}
	return false
}

// acknowledged frees the places of the rounds in a receipt.
func (w *window) acknowledged(r Receipt) {
	for id, f := range w.flights {
		if id.boot == r.Boot && f.clockSet == r.ClockSet && r.Holds(id.seq) {
			delete(w.flights, id)
		}
	}
	w.heard = true
	if w.quiet {
		w.quiet = false
		w.cursor = Place{}
	}
}
