package air

import (
	"errors"
	"fmt"
	"math"

	"recoat/drying/wood"
	"recoat/sensors"
)

// The span of inputs for which the state of the air is computed. Over all of
// it water boils above the air's temperature.
const (
	MinAir      sensors.Celsius = -50
	MaxAir      sensors.Celsius = 80
	MinPressure sensors.Pascals = 50000 // about 5500 m above the sea
	MaxPressure sensors.Pascals = 120000
)

// ErrNoDewPoint is the error of At for air without water. No room holds such
// air: a sensor that says 0 % is at its stop, or broken.
var ErrNoDewPoint = errors.New("air at 0 % relative humidity has no dew point: a humidity above 0 % would do")

// State is everything known of air at one temperature, humidity and pressure.
type State struct {
	Air              sensors.Celsius
	Humidity         sensors.RelativeHumidity
	Pressure         sensors.Pascals
	DewPoint         sensors.Celsius
	WetBulb          sensors.Celsius
	VapourPressure   sensors.Pascals
	AbsoluteHumidity float64 // g/m³
	HumidityRatio    float64 // kg of water for each kg of dry air
	WoodEMC          float64 // moisture that wood tends to in this air, per cent of its dry mass
}

// At returns the state of air at t and rh under total pressure p, where zero
// means the standard atmosphere. It refuses what Check refuses, and 0 % with
// ErrNoDewPoint.
func At(t sensors.Celsius, rh sensors.RelativeHumidity, p sensors.Pascals) (State, error) {
	p = orStandard(p)
	if err := Check(t, rh, p); err != nil {
		return State{}, err
	}
	if rh == 0 {
		return State{}, ErrNoDewPoint
	}
	return State{
		Air: t, Humidity: rh, Pressure: p,
		DewPoint:         DewPoint(t, rh),
		WetBulb:          WetBulb(t, rh, p),
		VapourPressure:   VapourPressure(t, rh),
		AbsoluteHumidity: AbsoluteHumidity(t, rh),
		HumidityRatio:    HumidityRatio(t, rh, p),
		WoodEMC:          wood.EMC(t, rh),
	}, nil
}

// DewMargin returns how far a surface is above the dew point.
func (s State) DewMargin(surface sensors.Celsius) sensors.Kelvins { return surface.Sub(s.DewPoint) }

// AtSurface returns the relative humidity where the air touches a surface.
func (s State) AtSurface(surface sensors.Celsius) sensors.RelativeHumidity {
	return HumidityAtSurface(s.VapourPressure, surface)
}

// Check returns why air cannot be at t and rh under p, or nil. A pressure of
// zero stands for the standard atmosphere.
func Check(t sensors.Celsius, rh sensors.RelativeHumidity, p sensors.Pascals) error {
	p = orStandard(p)
	if !within(float64(t), float64(MinAir), float64(MaxAir)) {
		return fmt.Errorf("air temperature is %v °C: %v to %v °C can be reckoned with", t, MinAir, MaxAir)
	}
	if !within(float64(rh), 0, 100) {
		return fmt.Errorf("relative humidity is %v %%: it lies between 0 and 100 %%", rh)
	}
	if !within(float64(p), float64(MinPressure), float64(MaxPressure)) {
		return fmt.Errorf("air pressure is %v hPa: %v to %v hPa can be reckoned with", p/100, MinPressure/100, MaxPressure/100)
	}
	return nil
}

// within is false for NaN.
func within(v, low, high float64) bool { return !math.IsNaN(v) && v >= low && v <= high }
