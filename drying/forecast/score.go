package forecast

import (
	"math"
	"slices"
	"time"
)

// Levels are the quantiles that are scored: a tenth, the median, nine tenths.
var Levels = [3]float64{0.1, 0.5, 0.9}

// Pinball is the loss of saying that a truth will not exceed said with
// probability p. Its mean is least for the true quantile (Koenker and Bassett
// 1978, Econometrica 46, 33-50).
func Pinball(truth, said, p float64) float64 {
	if truth >= said {
		return p * (truth - said)
	}
	return (1 - p) * (said - truth)
}

// Score sums up how good the forecasts of one quantity at one lead were. Every
// method is scored on the same forecasts. What there is too little of to say
// is NaN.
type Score struct {
	Count    int
	Forecast Mark
	// Blocks is how many stretches of time the forecasts fall into, a day each or
	// as many days as the lead is long, and CoverageError what the standard error
	// of the forecast's coverage is if only these are independent.
	Blocks        int
	CoverageError float64
	LastValue     Mark // the naive forecast that all stays as it is
	Yesterday     Mark // the naive forecast that all is as a day, or two, before
}

// Mark is how good one method was.
type Mark struct {
	Pinball  float64 // mean over forecasts and Levels, in the unit of the quantity
	Coverage float64 // share of truths from the first of the Levels to the last
}

// Ratio is the pinball loss to that of the better naive forecast.
func (s Score) Ratio() float64 {
	return s.Forecast.Pinball / math.Min(s.LastValue.Pinball, s.Yesterday.Pinball)
}

// tally adds up a Score. The three are the methods in the order of its fields.
type tally struct {
	count   int
	pinball [3]float64
	held    [3]float64
	blocks  blocks
}

// quantiles are what one method says, at Levels.
type quantiles [3]float64

// add takes in forecasts of a truth that falls into a block of time.
func (t *tally) add(block int, truth float64, said [3]quantiles) {
	t.count++
	t.blocks.add(block, truth >= said[0][0] && truth <= said[0][2])
	for k, q := range said {
		for l, p := range Levels {
			t.pinball[k] += Pinball(truth, q[l], p) / float64(len(Levels))
		}
		if truth >= q[0] && truth <= q[2] {
			t.held[k]++
		}
	}
}

func (t *tally) score() Score {
	n := float64(t.count)
	mark := func(k int) Mark { return Mark{Pinball: t.pinball[k] / n, Coverage: t.held[k] / n} }
	return Score{
		Count: t.count, Forecast: mark(0), LastValue: mark(1), Yesterday: mark(2),
		Blocks: len(t.blocks), CoverageError: t.blocks.standardError(),
	}
}

// fewestErrors is how many past errors a naive forecast takes its width from.
const fewestErrors = 10

// naive is a forecast that adds the quantiles of its own past errors, all
// alike, to a point.
type naive struct{ errors []float64 } // in order

func (n *naive) learn(err float64) {
	if math.IsNaN(err) {
		return
	}
	i, _ := slices.BinarySearch(n.errors, err)
	n.errors = slices.Insert(n.errors, i, err)
}

// say returns false where the point is unknown or there are too few errors.
func (n *naive) say(point float64) (quantiles, bool) {
	if math.IsNaN(point) || len(n.errors) < fewestErrors {
		return quantiles{}, false
	}
	var q quantiles
	for k, p := range Levels {
		x := p * float64(len(n.errors)-1)
		i := min(int(x), len(n.errors)-2)
		q[k] = point + n.errors[i] + (x-float64(i))*(n.errors[i+1]-n.errors[i])
	}
	return q, true
}

// naives are the two naive forecasts of one quantity at one lead.
type naives struct{ last, yesterday naive }

func (n *naives) learn(g *grid, q Quantity, i, ahead int) {
	truth := g.value(q, i)
	n.last.learn(truth - g.value(q, i-ahead))
	n.yesterday.learn(truth - g.value(q, i-days(ahead)*perDay))
}

func (n *naives) say(g *grid, q Quantity, i, ahead int) (last, yesterday quantiles, ok bool) {
	last, ok = n.last.say(g.value(q, i))
	if !ok {
		return last, yesterday, false
	}
	yesterday, ok = n.yesterday.say(g.value(q, i+ahead-days(ahead)*perDay))
	return last, yesterday, ok
}

// ScoredLeads are those that a backtest scores.
func ScoredLeads() []time.Duration {
	return []time.Duration{6 * time.Hour, 12 * time.Hour, 24 * time.Hour, 48 * time.Hour}
}
