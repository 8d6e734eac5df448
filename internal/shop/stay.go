package shop

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Stay is where a part was from an instant on, until the next stay begins.
type Stay struct {
	From  time.Time
	Room  string // its id; empty: none
	Probe string // the surface probe on the part; empty: none
}

// Stays returns where the part of a coat has been since the coat was put on,
// one stay after the other; the last goes on. A move that was recorded before
// the coat was is none of them: the coat's own room says where it was put on.
func (j *Journal) Stays(ctx context.Context, c Coat) ([]Stay, error) {
	changes, err := j.ChangesOf(ctx, c.Part.ID)
	if err != nil {
		return nil, fmt.Errorf("read where %s has been: %w", c.ID, err)
	}
	all := []Stay{{From: c.Applied, Room: c.Room, Probe: c.Part.Probe}}
	first := true
	for _, change := range changes {
		before, after, moved := move(change)
		if !moved || !change.At.After(c.Recorded) {
			continue
		}
		if first {
			all[0].Probe, first = before.Probe, false
		}
		if !change.At.After(c.Applied) {
			all[0].Room, all[0].Probe = after.Room, after.Probe
			continue
		}
		all = append(all, Stay{From: change.At, Room: after.Room, Probe: after.Probe})
	}
	return all, nil
}

// place is what the record of changes says of a part's place.
type place struct {
	Room  *string `json:"room"`
	Probe *string `json:"probe"`
}

// move reads a change of a part as a move; false where it was none.
func move(c Change) (before, after Stay, moved bool) {
	from, ok := placeIn(c.Before)
	to, also := placeIn(c.After)
	return from, to, ok && also && from != to
}

func placeIn(text json.RawMessage) (Stay, bool) {
	var p place
	if json.Unmarshal(text, &p) != nil || p.Room == nil || p.Probe == nil {
		return Stay{}, false
	}
	return Stay{Room: *p.Room, Probe: *p.Probe}, true
}

// JoinProbes joins a stay without a probe to the one after it in the same room: a
// probe was most likely put on before it was told of.
func JoinProbes(all []Stay) []Stay {
	var joined []Stay
	for _, s := range all {
		if n := len(joined); n > 0 && joined[n-1].Room == s.Room && joined[n-1].Probe == "" {
			joined[n-1].Probe = s.Probe
			continue
		}
		joined = append(joined, s)
	}
	return joined
}
