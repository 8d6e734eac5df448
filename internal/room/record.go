package room

import (
	"recoat/drying"
	"recoat/sensors"
)

// Record gathers a room's rounds, in any order, into what a coat in it went
// through.
type Record struct{ history history }

// Add takes in a round's good values.
func (r *Record) Add(round sensors.Round) { r.history.add(round) }

// Samples returns the conditions on the named probe's surface, the air's where
// probe is empty, minute by minute.
func (r *Record) Samples(probe string) []drying.Sample {
	var all []drying.Sample
	for i := range r.history.slots {
		if c, ok := r.history.slots[i].on(probe); ok {
			all = append(all, drying.Sample{At: r.history.slots[i].start, Conditions: c})
		}
	}
	return all
}
