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
	e, _ := saturation(float64(t))
	return sensors.Pascals(e)
}

// saturation returns the saturation pressure at t in °C, in Pa, and its slope,
// in Pa/K. It is asked for several times a reading, on the smallest of computers
// too, and comes from a table, which agrees with the equation to three in a hundred million.
func saturation(t float64) (e, slope float64) {
	if at := (t - tableLow) * tablePerKelvin; at >= 0 && at < tableSize {
		i := int(at)
		u, c := at-float64(i), &table[i]
		e = c[0] + u*(c[1]+u*(c[2]+u*c[3]))
		return e, (c[1] + u*(2*c[2]+u*3*c[3])) * tablePerKelvin
	}
	return sonntag(t)
}

// sonntag is the equation itself.
func sonntag(t float64) (e, slope float64) {
	kelvin := t + sensors.ZeroCelsius
	e = math.Exp(logSaturation(kelvin))
	return e, e * logSlope(kelvin)
}

// The table holds the cubic through the values and slopes at either end of
// each half kelvin from -60 to 90 °C.
const (
	tableLow       = -60
	tablePerKelvin = 2
	tableSize      = 150 * tablePerKelvin
)

var table = makeTable()

func makeTable() (all [tableSize][4]float64) {
	for i := range all {
		e0, s0 := sonntag(tableLow + float64(i)/tablePerKelvin)
		e1, s1 := sonntag(tableLow + float64(i+1)/tablePerKelvin)
		s0, s1 = s0/tablePerKelvin, s1/tablePerKelvin
		all[i] = [4]float64{e0, s0, 3*(e1-e0) - 2*s0 - s1, 2*(e0-e1) + s0 + s1}
	}
	return all
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
// kelvin. It is NaN for a pressure that is not above zero, and held at -200 °C.
func DewPointOf(e sensors.Pascals) sensors.Celsius {
	if !(e > 0) || math.IsInf(float64(e), 1) {
		return sensors.Celsius(math.NaN())
	}
	t := magnusInverse(math.Log(float64(e)))
	for range 100 {
		here, slope := saturation(t)
		step := (here - float64(e)) / slope
		t = max(t-step, coldest)
		if math.Abs(step) < 1e-4 { // what is left is of the order of its square
			break
		}
	}
	return sensors.Celsius(t)
}

// coldest bounds the dew points of pressures that no air has.
const coldest = -200

var logMagnusZero = math.Log(611.2)

// magnusInverse is only where Newton's method starts: the Magnus form of
// WMO-No. 8, annex 4.B, solved for the temperature. Beyond its own range (some
// -100 °C) the start is held where Newton still converges.
func magnusInverse(logPascals float64) float64 {
	x := logPascals - logMagnusZero
	return max(243.12*x/(17.62-x), -120)
}
