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
	e := float64(VapourPressure(t, rh))
	balance := wetBulbBalance{air: float64(t), ratio: ratioOf(e, float64(p)), pressure: float64(p)}
	// The balance is convex and rises, so Newton's method comes down to the root
	// from its first step on and never passes it.
	tw := float64(t) - balance.depression(float64(rh)/100)
	for range 60 {
		step := balance.at(tw)
		tw -= step
		if math.Abs(step) < 0.02 { // the next would be its square, and a fiftieth of that
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

// depression is only where Newton's method starts: a rough fit, good to a
// kelvin or two in a room.
func (b wetBulbBalance) depression(humidity float64) float64 {
	return (1 - humidity) * max(8+0.22*b.air, 1)
}

// at returns Newton's step from tw: the balance divided by its slope.
func (b wetBulbBalance) at(tw float64) float64 {
	e, slope := saturation(tw)
	scale := massRatio / (b.pressure - e)
	saturated := e * scale
	slope *= b.pressure * scale * scale / massRatio
	latent := 2501 - 2.326*tw
	value := latent*saturated - 1.006*(b.air-tw) - b.ratio*(2501+1.86*b.air-4.186*tw)
	return value / (latent*slope - 2.326*saturated + 1.006 + 4.186*b.ratio)
}
