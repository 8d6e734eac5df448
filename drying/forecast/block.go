package forecast

import "math"

// blocks counts how many forecasts of each stretch of time held. Intervals of
// one day hold or miss together, so that a coverage is far less certain than its
// number of forecasts makes it look.
type blocks map[int]block

type block struct{ count, held float64 }

func (b *blocks) add(i int, held bool) {
	if *b == nil {
		*b = blocks{}
	}
	one := (*b)[i]
	one.count++
	if held {
		one.held++
	}
	(*b)[i] = one
}

// standardError is that of the share that held, with blocks as clusters (W. G.
// Cochran, Sampling Techniques, 3rd edition, section 3.12: a proportion over
// cluster units; from memory). NaN with fewer than two blocks.
func (b blocks) standardError() float64 {
	var count, held float64
	for _, one := range b {
		count += one.count
		held += one.held
	}
	sum := 0.0
	for _, one := range b {
		off := one.held - one.count*held/count
		sum += off * off
	}
	n := float64(len(b))
	return math.Sqrt(sum*n/(n-1)) / count
}
