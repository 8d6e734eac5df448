package air

import (
	"math"

	"recoat/sensors"
)

const (
	// massRatio is the mass of water vapour to that of dry air at the same
	// pressure and volume (ASHRAE Fundamentals 2017, chapter 1, equation 20).
	massRatio = 0.621945
	// gasConstant is that of water vapour, J/(kg·K).
	gasConstant = 461.5
)

// AbsoluteHumidity returns the water in a cubic metre of air, in grams: the
// ideal gas law for the vapour alone.
func AbsoluteHumidity(t sensors.Celsius, rh sensors.RelativeHumidity) float64 {
	return 1000 * float64(VapourPressure(t, rh)) / (gasConstant * t.Absolute())
}

// HumidityRatio returns the water that goes with a kilogram of dry air, in
// kilograms, at total pressure p (zero: the standard atmosphere). It is NaN
// where the vapour alone would outweigh p.
func HumidityRatio(t sensors.Celsius, rh sensors.RelativeHumidity, p sensors.Pascals) float64 {
	return ratioOf(float64(VapourPressure(t, rh)), float64(orStandard(p)))
}

func ratioOf(e, p float64) float64 {
	if !(e < p) {
		return math.NaN()
	}
	return massRatio * e / (p - e)
}

func orStandard(p sensors.Pascals) sensors.Pascals {
	if p == 0 {
		return sensors.StandardPressure
	}
	return p
}

// HumidityAtSurface returns the relative humidity of air with the given vapour
// pressure where it touches a surface. Above 100 % water condenses there.
func HumidityAtSurface(e sensors.Pascals, surface sensors.Celsius) sensors.RelativeHumidity {
	return sensors.RelativeHumidity(100 * e / SaturationPressure(surface))
}

// HumidityFromDewPoint returns the relative humidity of air at t whose dew
// point is known.
func HumidityFromDewPoint(t, dew sensors.Celsius) sensors.RelativeHumidity {
	return HumidityAtSurface(SaturationPressure(dew), t)
}

// HumidityFromAbsolute returns the relative humidity of air at t that holds g
// grams of water in a cubic metre: the inverse of AbsoluteHumidity.
func HumidityFromAbsolute(t sensors.Celsius, g float64) sensors.RelativeHumidity {
	return HumidityAtSurface(sensors.Pascals(g/1000*gasConstant*t.Absolute()), t)
}

// HumidityFromRatio returns the relative humidity of air at t and total
// pressure p that carries w kilograms of water for each kilogram of dry air:
// the inverse of HumidityRatio.
func HumidityFromRatio(t sensors.Celsius, w float64, p sensors.Pascals) sensors.RelativeHumidity {
	return HumidityAtSurface(orStandard(p)*sensors.Pascals(w/(massRatio+w)), t)
}
