package air

import (
	"math"

	"recoat/sensors"
)

// WetBulb returns the thermodynamic wet-bulb temperature of air at t and rh
// under total pressure p (zero: the standard atmosphere): the temperature
// towards which evaporation alone cools a wet surface. The equation is ASHRAE
// Fundamentals 2017, chapter 1, equation 33, taken over liquid water below
// 0 °C too, so that dew point ≤ wet bulb ≤ air always holds. It is NaN where
// Check would refuse the input.
func WetBulb(t sensors.Celsius, rh sensors.RelativeHumidity, p sensors.Pascals) sensors.Celsius {
	p = orStandard(p)
	if Check(t, rh, p) != nil {
		return sensors.Celsius(math.NaN())
	}
	balance := wetBulbBalance{air: float64(t), ratio: HumidityRatio(t, rh, p), pressure: float64(p)}
	// The balance is convex and not negative at the air's own temperature,
	// so Newton's method walks down to the root and never past it.
	tw := float64(t)
	for range 60 {
		step := balance.at(tw)
		tw -= step
		if math.Abs(step) < 5e-3 { // the next would be its square, and a fiftieth of that
			break
		}
	}
	return sensors.Celsius(tw)
}

// wetBulbBalance is the heat that evaporation takes less the heat the air
// brings, kJ for each kg of dry air.
type wetBulbBalance struct {
	air, ratio, pressure float64
}

// at returns Newton's step from tw: the balance divided by its slope.
func (b wetBulbBalance) at(tw float64) float64 {
	kelvin := tw + sensors.ZeroCelsius
	e := math.Exp(logSaturation(kelvin))
	saturated := ratioOf(e, b.pressure)
	slope := saturated * logSlope(kelvin) * b.pressure / (b.pressure - e)
	latent := 2501 - 2.326*tw
	value := latent*saturated - 1.006*(b.air-tw) - b.ratio*(2501+1.86*b.air-4.186*tw)
	return value / (latent*slope - 2.326*saturated + 1.006 + 4.186*b.ratio)
}
