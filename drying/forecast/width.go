package forecast

import "math"

// width widens the intervals of one lead after too many misses and narrows
// them after too few.
type width struct{ seen, missed float64 }

const (
	interval     = 0.8 // share of truths that an interval is meant to hold
	missHalfLife = 2.0 // days
	missGain     = 5.0 // of the logarithm of the width, per share of misses
	missPrior    = 1.0 // days in which all was as it should be, counted at first

	// longSlack is by how much more intervals are widened at the Horizon, and in
	// proportion before: the longer the lead, the fewer errors that are new.
	longSlack = 0.05

	// checkEvery is how many steps lie between the intervals that are checked:
	// those of neighbouring half hours hold or miss together.
	checkEvery   = 3
	checksPerDay = perDay / checkEvery
)

var missKeep = math.Exp2(-1 / (missHalfLife * float64(checksPerDay)))

func (w *width) learn(held bool) {
	w.seen = w.seen*missKeep + 1
	w.missed *= missKeep
	if !held {
		w.missed++
	}
}

// factor is what widths so many steps ahead are multiplied by.
func (w *width) factor(ahead int) float64 {
	prior := missPrior * float64(checksPerDay)
	share := (w.missed + (1-interval)*prior) / (w.seen + prior)
	return (1 + longSlack*float64(ahead)/float64(leads)) * math.Exp(missGain*(share-(1-interval)))
}

// judged is the standard deviation of a forecast error, in K, where there is
// nothing yet to learn it from: judgement. It levels off within a day.
func judged(lead int) float64 {
	hours := float64(lead) * Step.Hours()
	return 2.2 * math.Sqrt(-math.Expm1(-2*hours/24))
}

// judgedShare is how much of a width is judgement: less with every error
// known, none after two days of them.
func judgedShare(known int) float64 {
	if known < 4 {
		return 1
	}
	return math.Max(0, 1-float64(known)/float64(2*perDay))
}
