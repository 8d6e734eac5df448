package drying

import (
	"math"

	"recoat/drying/air"
	"recoat/sensors"
)

// Waterborne finishes: water leaves at a rate set by the difference of vapour
// pressure between the film and the air,
//
//	r ∝ [ps(T_film) − RH·ps(T_air)] · k(v),  T_film = T_surface − ω·(T_air − T_wet bulb),
//
// and the particles flow together at one that grows by Q for each 10 K. Time
// goes with the thickness for the first and its square for the second.
//
// The constant-rate and falling-rate periods are those of S. Kiil, Progress in
// Organic Coatings 57 (2006) 236. No published table of drying times against
// room temperature and humidity was at hand: ω 0.3 (0 to 1), the shares and Q
// 1.6 (1.4 to 2) are judgement.
const (
	wetBulbShare   = 0.3
	coalescenceQ10 = 1.6
	// soakingPower damps evaporation where bare porous wood takes part of the
	// water: stains and casein on raw wood. Judgement.
	soakingPower = 0.7
)

func waterborneLaw() law {
	return law{
		rates: func(m *moist) rates {
			return rates{
				evaporation: max(drivingPressure(m), 0) * airSpeedFactor(m.speed),
				reaction:    coalescence(m.surface),
			}
		},
		spread:        waterborneSpread,
		evaporation:   [StageCount]float64{0.9, 0.9, 0.8, 0.7, 0.7, 0.5, 0.1},
		thickness:     rates{evaporation: 1, reaction: 2},
		wet:           wetBulbShare,
		surfaceSpread: 0.25, // 1 K of surface is about a quarter of the time at 20 °C, 60 %
		humidityBand:  5,
	}
}

// soakingLaw is that of stains and casein: nearly all of the time is water
// leaving, part of it into the wood.
func soakingLaw() law {
	l := waterborneLaw()
	l.rates = func(m *moist) rates {
		drive := max(drivingPressure(m), 0)
		return rates{
			evaporation: math.Pow(drive, soakingPower) * airSpeedFactor(m.speed),
			reaction:    coalescence(m.surface),
		}
	}
	l.spread = always(oneIn(1.5))
	l.evaporation = [StageCount]float64{0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.3}
	return l
}

// drivingPressure is that of water in the film less that in the air, Pa. It is
// negative where the air wets the film.
func drivingPressure(m *moist) float64 {
	return float64(air.SaturationPressure(sensors.Celsius(m.film))) - m.vapour
}

var logQ10 = math.Log(coalescenceQ10)

func coalescence(celsius float64) float64 { return math.Exp(logQ10 * celsius / 10) }

// waterborneSpread is a third or so from 15 to 30 °C and up to 70 %, and a
// factor of two well outside. Judgement.
func waterborneSpread(m *moist) float64 {
	out := max(ramp(m.humidity, 70, 75), 1-ramp(m.surface, 13, 15))
	out = max(out, ramp(m.surface, 30, 32))
	return waterborneNear + out*(waterborneFar-waterborneNear)
}

var waterborneNear, waterborneFar = oneIn(1.3), oneIn(2)
