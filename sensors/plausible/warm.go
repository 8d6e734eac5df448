package plausible

import (
	"fmt"
	"math"

	"recoat/sensors"
)

// Warm is a chip that its own board keeps warmer than the air. The water in the
// air at the chip is that of the room, so the dew point is right as it is; with
// it the humidity is expressed anew at the air's temperature.
type Warm struct {
	Temperature, Humidity sensors.Channel // of the same chip
	Excess                sensors.Kelvins // 0 to 10
}

// Check says what cannot be meant.
func (w Warm) Check() error {
	switch {
	case w.Temperature.Quantity != sensors.AirTemperature || w.Humidity.Quantity != sensors.AirHumidity:
		return fmt.Errorf("warmth of %s and %s: want the air temperature and the humidity of one chip", w.Temperature, w.Humidity)
	case !(w.Excess >= 0 && w.Excess <= 10):
		return fmt.Errorf("%s is %v K too warm: from 0 to 10", w.Temperature, w.Excess)
	}
	return nil
}

func (w Warm) correct(readings []sensors.Reading) {
	t := find(readings, w.Temperature)
	if t == nil || t.Quality == sensors.Missing {
		return
	}
	chip := t.Value
	t.Value -= float64(w.Excess)
	if h := find(readings, w.Humidity); h != nil && h.Quality != sensors.Missing {
		h.Value = min(h.Value*saturation(chip)/saturation(t.Value), 100)
	}
}

// saturation is the vapour pressure over water, in hPa, at t in °C (the Magnus
// formula of WMO-No. 8, annex 4.B). Only ratios of it are used.
func saturation(t float64) float64 { return 6.112 * math.Exp(17.62*t/(243.12+t)) }
