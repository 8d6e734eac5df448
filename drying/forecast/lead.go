package forecast

import "math"

// lead is everything about forecasts of one quantity so many steps ahead.
type lead struct {
	ahead   int
	ridge   ridge
	past    past
	width   width
	pending []pending // forecasts whose truth is not known yet, by origin
}

// pending is a forecast that waits for its truth.
type pending struct {
	made    bool
	full    bool // made with all features
	x       features
	now     float64 // the value it started from
	point   float64
	reach   float64 // half the width of its interval
	reached bool    // whether there was a width, and it is checked
}

func newLead(ahead int) lead { return lead{ahead: ahead, pending: make([]pending, ahead)} }

// learn takes in the truth of the forecast made so many steps before i.
func (l *lead) learn(i int, truth float64) {
	p := &l.pending[i%l.ahead]
	if i < l.ahead || !p.made || math.IsNaN(truth) {
		return
	}
	if p.full {
		l.ridge.learn(&p.x, truth-p.now)
	}
	l.past.add(i-l.ahead, truth-p.point)
	if p.reached {
		l.width.learn(math.Abs(truth-p.point) <= p.reach)
	}
}

// spread fills out with how far the truth may lie from the forecast made at i,
// at levels that rise and are mirrored about one half.
func (l *lead) spread(w *weights, i int, levels, out, scratch []float64) []float64 {
	known := l.past.len()
	share := judgedShare(known)
	if share < 1 {
		scratch = l.past.quantiles(w, i, l.ahead, levels, out, scratch)
	}
	factor := l.width.factor(l.ahead)
	for k, last := 0, len(levels)-1; k <= last-k; k++ {
		half := share * judged(l.ahead) * normal(levels[last-k])
		if share < 1 {
			half += (1 - share) * factor * math.Max(out[last-k]-out[k], 0) / 2
		}
		out[k], out[last-k] = -half, half
	}
	return scratch
}

// normal is the quantile of the standard normal distribution.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
