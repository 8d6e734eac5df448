package drying

// Two-part finishes react as soon as they are mixed: t ∝ exp(Ea/R·(1/T −
// 1/T₀)), the same for pot life, earliest and latest recoat. The thickness
// plays no part.
//
// Epoxy and amine: 55 to 60 kJ/mol, Thermochimica Acta 447 (2006) 167; 57 is
// used (50 to 62). Polyether polyurethane: 43.6 kJ/mol published in 2013; 47
// is used (40 to 55), which also follows the recoat windows of the guide
// specification UFGS 09971. It was chosen with that table in view.
const (
	epoxyEnergy        = 57e3
	polyurethaneEnergy = 47e3
)

func twoPartLaw(energy float64) law {
	return law{
		rates: func(m *moist) rates {
			r := arrhenius(energy, m.surface)
			return rates{evaporation: r, reaction: r}
		},
		spread:        always(oneIn(1.25)), // judgement
		surfaceSpread: 0.08,                // 1 K
		humidityBand:  5,
	}
}
