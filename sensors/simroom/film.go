package simroom

import (
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// film is the liquid water on one surface: of a wet coat, or dew.
type film struct {
	water   float64 // kg/m²
	applied float64 // kg/m², what the last coat came with; 0 once it is dry
}

const (
	// skinBegins is the share of a coat's water below which a skin of polymer
	// hinders drying. Kiil, Prog. Org. Coat. 57:236 (2006) puts the end of the
	// constant rate at 74 per cent of polymer by volume; a wet film of 40 per
	// cent solids then holds 0.4·26/74 = 0.14 of its first volume as water,
	// 0.23 of the 0.60 it began with.
	skinBegins = 0.23
	// skinDiffusivity of vapour through that skin, in m²/s (the same paper).
	skinDiffusivity = 7e-7
	// skinPerWater is the dry film, in m, that a coat of 40 per cent solids by
	// volume leaves for each kg/m² of its water.
	skinPerWater = 0.4 / 0.6 / 1000
	// dewFilm is the dew that covers a surface, in kg/m² (an assumption:
	// thinner dew is drops, with less surface).
	dewFilm = 0.002
	// vapourConstant is the gas constant of water vapour, in J/(kg·K).
	vapourConstant = 461.5
)

// transfer is the mass of vapour that a water surface gives to the air for a
// difference in vapour pressure, in kg/(m²·s·Pa). The law is that of the ASHRAE
// Handbook, HVAC Applications, for still and slow air, in SI units:
// E = Δp·(0.089 + 0.0782·v)/Y with Δp in kPa, v in m/s and Y in kJ/kg, which is
// 2501 - 2.326·t (ASHRAE Fundamentals 2017, ch. 1). By the analogy of heat and
// mass it goes with 6 W/(m²·K) of convection, more than still air gives a dry
// surface: a wet surface comes out somewhat cold, and its coat a little slow.
func transfer(surface sensors.Celsius, speed sensors.MetresPerSecond) float64 {
	return (0.089 + 0.0782*float64(speed)) / (2501 - 2.326*float64(surface)) / 1000
}

// dry takes what evaporates in dt out of the film and returns the flux of
// vapour, in kg/(m²·s); dew adds to the film and the flux is negative.
func (f *film) dry(dt time.Duration, surface sensors.Celsius, vapour sensors.Pascals, speed sensors.MetresPerSecond) float64 {
	perPascal := transfer(surface, speed)
	flux := perPascal * float64(air.SaturationPressure(surface)-vapour)
	if flux > 0 {
		flux *= f.exposed(perPascal * vapourConstant * surface.Absolute())
		flux = min(flux, f.water/dt.Seconds())
	}
	f.water = max(0, f.water-flux*dt.Seconds())
	if f.water == 0 {
		f.applied = 0
	}
	return flux
}

// exposed is the share of a full water surface that the film amounts to, where
// the air by itself carries vapour away at so many m/s. The skin of a coat is
// a resistance in series with the air's that grows as the water goes; dew
// thins out.
func (f *film) exposed(perSecond float64) float64 {
	if f.applied == 0 {
		return min(1, f.water/dewFilm)
	}
	grown := max(0, 1-f.water/(skinBegins*f.applied))
	skin := f.applied * skinPerWater / skinDiffusivity * grown // s/m
	return 1 / (1 + perSecond*skin)
}

func (f *film) coat(water float64) {
	f.water += water
	f.applied = f.water
}
