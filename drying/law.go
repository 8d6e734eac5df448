package drying

import "math"

// law is how a kind of finish dries. Every stage is reached by two processes:
// something leaves the film (evaporation), and what stays flows together,
// reacts or gives up the last of its solvent (reaction). Their rates may be in
// any unit, since only ratios to the rates at the label's conditions count.
type law struct {
	rates func(*moist) rates
	// spread is the standard deviation of the logarithm of a stage's time: how
	// far the law itself may be off.
	spread func(*moist) float64
	// evaporation is the share of each stage's label time that goes with the
	// rate of evaporation; the rest goes with that of reaction.
	evaporation [StageCount]float64
	// thickness holds the powers of the film's thickness by which the time of
	// either process grows.
	thickness rates
	// wet is the share of the wet-bulb depression by which the film is colder
	// than its surface while water leaves it.
	wet float64
	// surfaceSpread is added where the surface was not measured.
	surfaceSpread float64
	// humidityBand is how far below its highest humidity a room is doubtful, %.
	humidityBand float64
}

// rates is one number for each of the two processes.
type rates struct{ evaporation, reaction float64 }

// thinnest bounds what is claimed for films thinner than the label's: below a
// quarter of it a film is mostly what soaked in.
const thinnest = 0.25

// thicker returns how many times longer the two processes take in a film h
// times as thick as the label's.
func (l *law) thicker(h float64) rates {
	h = max(h, thinnest)
	return rates{
		evaporation: math.Pow(h, l.thickness.evaporation),
		reaction:    math.Pow(h, l.thickness.reaction),
	}
}

// pace returns the label hours gained in an hour on the way to a stage.
func (l *law) pace(s Stage, t rates) float64 {
	share := l.evaporation[s]
	slower := 0.0
	if share > 0 {
		slower += share * t.evaporation
	}
	if share < 1 {
		slower += (1 - share) * t.reaction
	}
	return 1 / slower
}

// gas is the molar gas constant, J/(mol·K) (SI brochure, 9th edition).
const gas = 8.31446261815324

// arrhenius returns the temperature part of a reaction's rate for an
// activation energy in J/mol: Arrhenius' law, up to a constant factor.
func arrhenius(energy, celsius float64) float64 {
	return math.Exp(-energy / (gas * (celsius + 273.15)))
}

// airSpeedFactor returns how much faster a film gives off vapour in moving air
// than in a still room. It is the geometric mean of a low estimate (the ASHRAE
// form for water basins, 0.089 + 0.0782·v) and a high one (v to the power
// 0.585, after De Bortoli et al., Environmental Science & Technology 33 (1999)
// 1760: half as much again from 0.15 to 0.30 m/s), and is held at 2.
func airSpeedFactor(v float64) float64 {
	if v <= stillAir {
		return 1
	}
	low := (0.089 + 0.0782*v) / (0.089 + 0.0782*stillAir)
	high := math.Pow(v/stillAir, 0.585)
	return min(math.Sqrt(low*high), 2)
}

// oneIn returns the spread of a time that is good to a factor.
func oneIn(factor float64) float64 { return math.Log(factor) }

// always is a spread that is the same in all conditions.
func always(spread float64) func(*moist) float64 { return func(*moist) float64 { return spread } }

// ramp goes from 0 at a to 1 at b, and stays there.
func ramp(v, a, b float64) float64 { return min(max((v-a)/(b-a), 0), 1) }
