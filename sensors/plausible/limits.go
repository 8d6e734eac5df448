package plausible

import (
	"time"

	"recoat/sensors"
)

// Limits is what a channel of a quantity can do, in the quantity's unit. A zero
// Span, Step or time switches its rule off.
type Limits struct {
	Min, Max float64       // what a workshop can have; both 0: anything
	Step     float64       // the most it moves in StepTime
	MaxStep  float64       // the most it is believed to move in any time
	Still    time.Duration // how long it can stay exactly the same
	Full     float64       // from here on a humidity is at the end of its scale
	FullTime time.Duration // how long that can last
}

const (
	// StepTime is what Step is counted in.
	StepTime = 2 * time.Second
	// confirmations is how many readings in a row have to agree on a new level.
	confirmations = 3
	// forgotten is after how long a level is none to compare with.
	forgotten = 10 * time.Minute
)

// Usual returns the limits of a workshop (common practice, no source). A room
// does not change faster than its fastest sensor follows. A converter of 16 bits
// and more is never still for half an hour; the probes for surfaces have 12, on
// a piece of some weight.
func Usual() map[sensors.Quantity]Limits {
	return map[sensors.Quantity]Limits{
		sensors.AirTemperature:     {Min: -20, Max: 60, Step: 2, MaxStep: 10, Still: 30 * time.Minute},
		sensors.AirHumidity:        {Min: 0.01, Max: 100, Step: 10, MaxStep: 40, Still: 30 * time.Minute, Full: 99.5, FullTime: time.Hour},
		sensors.SurfaceTemperature: {Min: -20, Max: 60, Step: 2, MaxStep: 10, Still: 4 * time.Hour},
		sensors.AirPressure:        {Min: 50000, Max: 110000, Step: 200, MaxStep: 1000, Still: 30 * time.Minute},
		sensors.CarbonDioxide:      {Min: 300, Max: 40000},
	}
}
