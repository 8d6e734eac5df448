package forecast

import "math"

// season is the mean of each half hour of the day, in which a day counts half
// as much as one that is halfLife days later.
type season struct {
	keep        float64
	sum, weight [perDay]float64
}

func newSeason(halfLife float64) season { return season{keep: math.Exp2(-1 / halfLife)} }

func (s *season) add(i int, v float64) {
	k := i % perDay
	s.sum[k] *= s.keep
	s.weight[k] *= s.keep
	if !math.IsNaN(v) {
		s.sum[k] += v
		s.weight[k]++
	}
}

// mean is that of the half hour of step i: NaN where none has been seen.
func (s *season) mean(i int) float64 { return s.sum[i%perDay] / s.weight[i%perDay] }

// towards is the mean that counts base as one day more.
func (s *season) towards(i int, base float64) float64 {
	k := i % perDay
	return (s.sum[k] + base) / (s.weight[k] + 1)
}
