package drying

import "math"

// Two-part finishes react as soon as they are mixed: t ∝ exp(Ea/R·(1/T −
// 1/T₀)), the same for pot life, earliest and latest recoat. The thickness
// plays no part.
//
// Epoxy and amine: 55 to 60 kJ/mol, Thermochimica Acta 447 (2006) 167; 57 is
// used (50 to 62). Polyurethane: 52 (44 to 58) is what fits the earliest recoat
// times and the pot lives of the guide specifications UFGS 09970 and 09971 best,
// in the logarithm; it was chosen with these figures in view. Of a polyether
// polyurethane 43.6 was published in 2013.
const (
	epoxyEnergy        = 57e3
	polyurethaneEnergy = 52e3
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
