// Package surface reckons the temperature of a piece's surface from the air
// where no probe is on it: a board follows the room with a lag of minutes to
// hours, by its thickness.
package surface

import (
	"fmt"
	"math"
	"slices"
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
)

// modes is how many terms of the board's series are followed: from a minute
// on, what the rest would add is under 1 % of a sudden change.
const modes = 6

// restless is how far the estimate may be off for a piece that has long been
// in the room: it sees cold walls and windows, the sensor does not. Judgement.
const restless sensors.Kelvins = 1

// lagShare is how much of the difference still left between air and surface
// the estimate may be off by: wood's conductivity is known to 20 %, heat
// exchange with the room hardly better. Judgement.
const lagShare = 0.3

// Estimator follows one board. It is exact for a board of the figures given,
// with both faces in air that holds its temperature between two readings.
type Estimator struct {
	modes []wood.Mode
	// left is what each mode still lacks of the air's temperature, K.
	left []float64
	air  sensors.Celsius
	at   time.Time
	// decay is what each mode keeps over a step of that length: steps are mostly
	// of one length, and exponentials dear.
	step  time.Duration
	decay []float64
}

// New returns the estimator of a board that is as warm as start throughout at
// the instant at.
func New(board wood.Board, start sensors.Celsius, at time.Time) (*Estimator, error) {
	if err := board.Check(); err != nil {
		return nil, err
	}
	if !sensors.IsFinite(float64(start)) {
		return nil, fmt.Errorf("the board begins at %v °C: a temperature would do", start)
	}
	return &Estimator{modes: board.Modes(modes), left: make([]float64, modes), air: start, at: at}, nil
}

// Advance takes in that the air had a temperature from the instant at on. It
// passes over a reading that is no number and one that is older than the last.
func (e *Estimator) Advance(at time.Time, air sensors.Celsius) {
	if at.Before(e.at) || !sensors.IsFinite(float64(air)) {
		return
	}
	jump := float64(air.Sub(e.air))
	for i, keeps := range e.decayOver(at.Sub(e.at)) {
		e.left[i] = e.left[i]*keeps - e.modes[i].Share*jump
	}
	e.air, e.at = air, at
}

// decayOver never changes a slice that it has returned: clones share it.
func (e *Estimator) decayOver(step time.Duration) []float64 {
	if e.decay == nil || step != e.step {
		e.step, e.decay = step, make([]float64, len(e.modes))
		for i, m := range e.modes {
			e.decay[i] = math.Exp(-step.Seconds() / m.Time.Seconds())
		}
	}
	return e.decay
}

// Surface returns the temperature of the surface at the instant of the last
// reading and its standard uncertainty.
func (e *Estimator) Surface() (t sensors.Celsius, sigma sensors.Kelvins) {
	behind := sensors.Kelvins(0)
	for _, l := range e.left {
		behind += sensors.Kelvins(l)
	}
	return e.air.Add(behind), sensors.Kelvins(math.Hypot(float64(restless), lagShare*float64(behind)))
}

// Clone returns an estimator that goes on from here by itself.
func (e *Estimator) Clone() *Estimator {
	c := *e
	c.left = slices.Clone(e.left)
	return &c
}
