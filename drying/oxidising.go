package drying

// Oils, alkyds and hardwax oils: a little solvent leaves, then oxygen from the
// air links the oil,
//
//	t ∝ [σ·ps(T₀)/ps(T) + (1−σ)·exp(Ea/R·(1/T − 1/T₀))] · g(RH),
//
// with time to the power 1.5 of the thickness. Ea is 50 kJ/mol (40 to 70),
// from memory of what is quoted for drier-catalysed films: time doubles for
// each 10 K colder. g is 1 up to 70 % and grows to 1.5 at 90 %: assumed.
const oxidationEnergy = 50e3

func oxidisingLaw() law {
	return law{
		rates: func(m *moist) rates {
			damp := dampness(m.humidity)
			return rates{
				evaporation: decane.pressure(m.film) / damp,
				reaction:    arrhenius(oxidationEnergy, m.surface) / damp,
			}
		},
		spread:        oxidisingSpread,
		evaporation:   [StageCount]float64{0.4, 0.3, 0.2, 0.15, 0.15, 0.1, 0.02},
		thickness:     rates{evaporation: 1.5, reaction: 1.5},
		surfaceSpread: 0.08, // 1 K
		humidityBand:  5,
	}
}

// dampness is g: how much longer oxidation takes in damp air.
func dampness(rh float64) float64 { return 1 + 0.5*max(rh-70, 0)/20 }

// oxidisingSpread is a factor of 1.6, and of 2.5 well below 15 °C. Judgement.
func oxidisingSpread(m *moist) float64 {
	return oxidisingNear + (1-ramp(m.surface, 13, 15))*(oxidisingFar-oxidisingNear)
}

var oxidisingNear, oxidisingFar = oneIn(1.6), oneIn(2.5)
