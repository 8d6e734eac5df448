package drying

import (
	"math"

	"recoat/drying/air"
	"recoat/sensors"
)

// Moisture-curing urethane reacts with water from the air, the faster the more
// of it there is: t ∝ (c₀/c)^m · exp(Ea/R·(1/T − 1/T₀)) with c the absolute
// humidity, and time with the square of the thickness, through which the water
// has to come. m is 0.7 (0.5 to 1), Ea 40 kJ/mol (30 to 50): judgement.
const (
	moistureOrder  = 0.7
	moistureEnergy = 40e3
)

func moistureCuringLaw() law {
	return law{
		rates: func(m *moist) rates {
			water := air.AbsoluteHumidity(sensors.Celsius(m.air), sensors.RelativeHumidity(m.humidity))
			r := math.Pow(water, moistureOrder) * arrhenius(moistureEnergy, m.surface)
			return rates{evaporation: r, reaction: r}
		},
		spread:        always(oneIn(2)), // judgement
		thickness:     rates{evaporation: 2, reaction: 2},
		surfaceSpread: 0.08, // 1 K
		humidityBand:  5,
	}
}
