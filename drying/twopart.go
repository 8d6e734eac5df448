package drying

import "math"

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
		spread:        twoPartSpread,
		surfaceSpread: 0.08, // 1 K
		humidityBand:  5,
	}
}

// energyDoubt is how far a two-part finish's own activation energy may be from
// the kind's, J/mol, as a standard deviation: published figures, and those that
// follow from the recoat windows of UFGS 09971, go from 33 to 60 kJ/mol.
const energyDoubt = 10e3

// twoPartSpread is a factor of 1.25 (judgement) where labels hold, and grows
// with the distance from there: what is not known of the activation energy
// makes no difference at the label's temperature, and the more the further off.
func twoPartSpread(m *moist) float64 {
	const usual = 23 + 273.15 // K, of labels
	return math.Hypot(oneIn(1.25), energyDoubt/gas*(1/(m.surface+273.15)-1/usual))
}
