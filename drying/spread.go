package drying

import (
	"math"
	"sort"
	"time"
)

// Spread is when a coat may reach a stage, over an ensemble of what the room
// may do and what the model may be wrong by.
type Spread struct {
	Stage Stage
	// P10, P50 and P90 are the instants by which one in ten, half and nine in
	// ten of the members have reached the stage; zero where they do not within
	// Horizon.
	P10, P50, P90 time.Time
	// Blocked says why nothing can be said of the coat at all.
	Blocked []Reason
	applied time.Time
	ready   []float64 // s since applied, in order; +Inf: not within Horizon
}

// By returns the chance that the stage is reached by an instant, 0 to 1.
func (s *Spread) By(t time.Time) float64 {
	if len(s.ready) == 0 {
		return 0
	}
	at := seconds(t.Sub(s.applied))
	n := sort.Search(len(s.ready), func(i int) bool { return s.ready[i] > at })
	return float64(n) / float64(len(s.ready))
}

// Quantile returns the instant by which a share p of the members, 0 to 1, has
// reached the stage, and false where they do not within Horizon.
func (s *Spread) Quantile(p float64) (time.Time, bool) {
	if len(s.ready) == 0 || !(p >= 0 && p <= 1) {
		return time.Time{}, false
	}
	// The members stand for the middles of equal shares.
	at := min(max(p*float64(len(s.ready))-0.5, 0), float64(len(s.ready)-1))
	low, part := math.Modf(at)
	v := s.ready[int(low)]
	if part > 0 {
		v += part * (s.ready[int(low)+1] - v)
	}
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return time.Time{}, false
	}
	return s.applied.Add(time.Duration(math.Round(v * 1e9))), true
}

// settle puts the instants in order and reads the usual quantiles.
func (s *Spread) settle() {
	sort.Float64s(s.ready)
	s.P10, _ = s.Quantile(0.1)
	s.P50, _ = s.Quantile(0.5)
	s.P90, _ = s.Quantile(0.9)
}
