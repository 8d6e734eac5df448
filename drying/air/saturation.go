// Package air computes the state of moist air: how much water it holds, where
// that water condenses, and how damp it is against a surface that is warmer or
// colder than itself.
//
// Everything is over liquid water, below 0 °C too, because that is what
// humidity sensors and weather stations report. The functions return NaN where
// a quantity does not exist (air without water has no dew point); Check and At
// say in words what is wrong with an input.
package air

import (
	"math"

	"recoat/sensors"
)

// Coefficients of the saturation pressure over water, T in kelvins, result in
// pascals: D. Sonntag, "Important new values of the physical constants of
// 1986, vapour pressure formulations based on the ITS-90, and psychrometer
// formulae", Zeitschrift für Meteorologie 40 (1990) 340-344. Good from -100 to
// 100 °C.
const (
	sonntagInverse   = -6096.9385
	sonntagConstant  = 21.2409642
	sonntagLinear    = -2.711193e-2
	sonntagQuadratic = 1.673952e-5
	sonntagLog       = 2.433502
)

// SaturationPressure returns the pressure of water vapour over liquid water at
// t, from -100 to 100 °C.
func SaturationPressure(t sensors.Celsius) sensors.Pascals {
	return sensors.Pascals(math.Exp(logSaturation(t.Absolute())))
}

func logSaturation(kelvin float64) float64 {
	return sonntagInverse/kelvin + sonntagConstant + sonntagLinear*kelvin +
		sonntagQuadratic*kelvin*kelvin + sonntagLog*math.Log(kelvin)
}

// logSlope is the derivative of logSaturation, per kelvin.
func logSlope(kelvin float64) float64 {
	return -sonntagInverse/(kelvin*kelvin) + sonntagLinear + 2*sonntagQuadratic*kelvin + sonntagLog/kelvin
}

// VapourPressure returns the pressure of the water vapour in air at t and rh.
func VapourPressure(t sensors.Celsius, rh sensors.RelativeHumidity) sensors.Pascals {
	return sensors.Pascals(rh) / 100 * SaturationPressure(t)
}

// DewPoint returns the temperature of a surface on which the water in air at t
// and rh begins to condense. It is NaN at 0 % and for anything else that is
// not a humidity above zero.
func DewPoint(t sensors.Celsius, rh sensors.RelativeHumidity) sensors.Celsius {
	return DewPointOf(VapourPressure(t, rh))
}

// DewPointOf returns the dew point of a vapour pressure: the inverse of
// SaturationPressure by Newton's method, to better than a millionth of a
// kelvin. It is NaN for a pressure that is not above zero.
func DewPointOf(e sensors.Pascals) sensors.Celsius {
	if !(e > 0) || math.IsInf(float64(e), 1) {
		return sensors.Celsius(math.NaN())
	}
	target := math.Log(float64(e))
	kelvin := magnusInverse(target)
	for range 20 {
		miss := logSaturation(kelvin) - target
		// In 1/T the curve is nearly straight, so a step in 1/T lands close.
		kelvin = 1 / (1/kelvin + miss/(logSlope(kelvin)*kelvin*kelvin))
		if math.Abs(miss) < 1e-4 { // what is left is of the order of its square
			break
		}
	}
	return sensors.Celsius(kelvin - sensors.ZeroCelsius)
}

// magnusInverse is only where Newton's method starts: the Magnus form of
// WMO-No. 8, annex 4.B, solved for the temperature in kelvins. Beyond its own
// range (some -100 °C) the start is held where Newton still converges.
func magnusInverse(logPascals float64) float64 {
	x := logPascals - math.Log(611.2)
	return math.Max(sensors.ZeroCelsius+243.12*x/(17.62-x), 150)
}
