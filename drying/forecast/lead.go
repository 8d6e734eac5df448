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

// pending is a forecast that waits for its truth, with what of its features
// cannot be told again once the truth is there. A forecaster has ten thousand of
// these, which are kept to a millionth of a kelvin.
type pending struct {
	point      float32 // NaN: none was made
	there      float32 // what was usual then for the half hour to come
	usualThere float32 // and on days of its kind; NaN: made without features
	reach      float32 // half the width of its interval; NaN: not checked
}

func (p *pending) made() bool    { return !unknown(p.point) }
func (p *pending) full() bool    { return !unknown(p.usualThere) }
func (p *pending) reached() bool { return !unknown(p.reach) }

func unknown(v float32) bool { return v != v }

func newLead(ahead int) lead { return lead{ahead: ahead, pending: make([]pending, ahead)} }

// learn takes in the truth of the forecast made so many steps before i.
func (l *lead) learn(i int, truth float64, s *series) {
	p := &l.pending[i%l.ahead]
	if i < l.ahead || !p.made() || math.IsNaN(truth) {
		return
	}
	if p.full() {
		origin := i - l.ahead
		x := s.features(origin, l.ahead, p)
		l.ridge.learn(&x, truth-s.origin(origin).now)
	}
	off := truth - float64(p.point)
	l.past.add(i-l.ahead, off)
	if p.reached() {
		l.width.learn(math.Abs(off) <= float64(p.reach))
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
