package plausible

import (
	"errors"
	"fmt"
	"maps"
	"time"

	"recoat/sensors"
)

// Config says what is known of a node's sensors.
type Config struct {
	Limits map[sensors.Quantity]Limits // nil: Usual()
	Warm   []Warm                      // boards that warm their own chip
	Twins  []Twin                      // pairs of channels that should agree
}

// Judge holds what it has seen of each channel. It is not safe for concurrent
// use.
type Judge struct {
	limits map[sensors.Quantity]Limits
	warm   []Warm
	twins  []*pair
	seen   map[sensors.Channel]*track
	why    map[sensors.Channel]string
}

// New checks the configuration.
func New(c Config) (*Judge, error) {
	j := &Judge{limits: c.Limits, warm: c.Warm, seen: map[sensors.Channel]*track{}}
	if j.limits == nil {
		j.limits = Usual()
	}
	for _, w := range c.Warm {
		if err := w.Check(); err != nil {
			return nil, fmt.Errorf("set up the plausibility check: %w", err)
		}
	}
	for _, t := range c.Twins {
		if err := t.check(); err != nil {
			return nil, fmt.Errorf("set up the plausibility check: %w", err)
		}
		j.twins = append(j.twins, &pair{Twin: t, offset: t.Offset, learnt: t.Known})
	}
	return j, nil
}

// Check returns the readings of one round, taken at the time at since the machine
// started, corrected, and suspect where something speaks against them. Rounds
// are shown in order. It makes no reading better than it was, and does not alter
// the slice it is given.
func (j *Judge) Check(at time.Duration, readings []sensors.Reading) []sensors.Reading {
	out := append([]sensors.Reading(nil), readings...)
	j.why = map[sensors.Channel]string{}
	for _, w := range j.warm {
		w.correct(out)
	}
	for i, r := range out {
		if !usable(r) {
			continue
		}
		if err := j.track(r.Channel).check(at, r.Value, j.limits[r.Channel.Quantity]); err != nil {
			j.doubt(&out[i], err)
		}
	}
	for _, p := range j.twins {
		first, second := find(out, p.First), find(out, p.Second)
		if first == nil || second == nil {
			continue
		}
		if err := p.check(at, *first, *second); err != nil {
			j.doubt(first, err)
			j.doubt(second, err)
		}
	}
	return out
}

// Why returns what speaks against each suspect reading of the last round.
func (j *Judge) Why() map[sensors.Channel]string { return maps.Clone(j.why) }

// Learnt returns the offset of the i-th pair of twins, to be given to the next
// Judge, and whether there is one yet.
func (j *Judge) Learnt(i int) (float64, bool) { return j.twins[i].offset, j.twins[i].learnt }

func (j *Judge) track(c sensors.Channel) *track {
	t := j.seen[c]
	if t == nil {
		t = &track{}
		j.seen[c] = t
	}
	return t
}

func (j *Judge) doubt(r *sensors.Reading, err error) {
	if r.Quality == sensors.Good {
		r.Quality = sensors.Suspect
	}
	if j.why[r.Channel] == "" {
		j.why[r.Channel] = err.Error()
	}
}

// usable reports whether a reading tells something of the room. One that is held
// tells of the heater.
func usable(r sensors.Reading) bool {
	return r.Quality != sensors.Missing && r.Quality != sensors.Held && sensors.IsFinite(r.Value)
}

func find(readings []sensors.Reading, c sensors.Channel) *sensors.Reading {
	for i := range readings {
		if readings[i].Channel == c {
			return &readings[i]
		}
	}
	return nil
}

var errNoChannel = errors.New("a channel is named by its quantity")
