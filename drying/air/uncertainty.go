package air

import (
	"math"

	"recoat/sensors"
)

// DewPointSensitivity returns how the dew point moves with the air temperature
// (K/K) and with the relative humidity (K per % of relative humidity): the
// partial derivatives of the inverted saturation curve.
func DewPointSensitivity(t sensors.Celsius, rh sensors.RelativeHumidity) (perKelvin, perPercent float64) {
	atDew := logSlope(DewPoint(t, rh).Absolute())
	return logSlope(t.Absolute()) / atDew, 1 / (float64(rh) * atDew)
}

// DewPointSigma returns the standard uncertainty of the dew point that follows
// from those of the air temperature and the relative humidity, taken as
// independent (JCGM 100:2008, equation 10).
func DewPointSigma(t sensors.Celsius, rh sensors.RelativeHumidity, sigmaT sensors.Kelvins, sigmaRH sensors.RelativeHumidity) sensors.Kelvins {
	perKelvin, perPercent := DewPointSensitivity(t, rh)
	return sensors.Kelvins(math.Hypot(perKelvin*float64(sigmaT), perPercent*float64(sigmaRH)))
}
