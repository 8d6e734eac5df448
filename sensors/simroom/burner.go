package simroom

import (
	"math"
	"time"

	"recoat/sensors"
)

// burner is the heater at work: its thermostat and the heat it still gives.
type burner struct {
	heater Heater
	on     bool
	output float64 // W
}

// step moves the thermostat and returns the heat given over dt, in W.
func (b *burner) step(now time.Time, dt time.Duration, room sensors.Celsius, occupied bool) float64 {
	set := b.heater.set(timeOfDay(now))
	switch half := b.heater.Hysteresis / 2; {
	case b.heater.Attended && !occupied:
		b.on = false
	case room < set.Add(-half):
		b.on = true
	case room >= set.Add(half):
		b.on = false
	}
	goal := 0.0
	if b.on {
		goal = b.heater.Power
	}
	if b.heater.Lag == 0 {
		b.output = goal
	} else {
		b.output += (goal - b.output) * -math.Expm1(-float64(dt)/float64(b.heater.Lag))
	}
	return b.output
}

func (h Heater) set(clock time.Duration) sensors.Celsius {
	if clock >= h.From && clock < h.Until {
		return h.Day
	}
	return h.Night
}
