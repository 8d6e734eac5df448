package wood

import (
	"math"
	"time"
)

// Mode is one term of the series that says how a board's surface follows the
// air: its share of a sudden difference, and the time in which that share
// falls to 1/e.
type Mode struct {
	Share float64
	Time  time.Duration
}

// modeCount terms give the share left after a minute to 0.1 %.
const modeCount = 60

// Modes returns the first n terms, slowest first, of the exact solution for a
// slab with heat exchange on both faces: Carslaw and Jaeger, Conduction of
// Heat in Solids (2nd edition, 1959), chapter III. The last one also carries
// what the missing terms would: the shares add up to 1.
func (b Board) Modes(n int) []Mode {
	half := b.Thickness / 2
	biot := b.FilmCoefficient * half / b.Conductivity()
	unit := half * half / b.Diffusivity() // s
	modes := make([]Mode, n)
	rest := 1.0
	for i := range modes {
		z := eigenvalue(i, biot)
		share := 4 * math.Sin(z) * math.Cos(z) / (2*z + math.Sin(2*z))
		modes[i] = Mode{Share: share, Time: time.Duration(unit / (z * z) * float64(time.Second))}
		rest -= share
	}
	if n > 0 {
		modes[n-1].Share += rest
	}
	return modes
}

// eigenvalue returns the i-th root of z·tan z = biot, which lies between i·π
// and (i+½)·π, by halving.
func eigenvalue(i int, biot float64) float64 {
	low, high := float64(i)*math.Pi, (float64(i)+0.5)*math.Pi
	for range 60 {
		mid := (low + high) / 2
		// Multiplied by the cosine, so that the pole at the end is no trouble.
		if mid*math.Abs(math.Sin(mid)) < biot*math.Abs(math.Cos(mid)) {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// Lag returns the share of a sudden difference between board and air that is
// still left at the surface after the time: 1 at once, falling to 0.
func (b Board) Lag(after time.Duration) float64 {
	return left(b.Modes(modeCount), after)
}

func left(modes []Mode, after time.Duration) float64 {
	if after <= 0 {
		return 1
	}
	sum := 0.0
	for _, m := range modes {
		sum += m.Share * math.Exp(-after.Seconds()/m.Time.Seconds())
	}
	return sum
}

// LagTime returns how long it takes until only the given share of a sudden
// difference, between 0 and 1, is left at the surface.
func (b Board) LagTime(share float64) time.Duration {
	modes := b.Modes(modeCount)
	low, high := time.Duration(0), 20*modes[0].Time
	for high-low > time.Second/10 {
		mid := (low + high) / 2
		if left(modes, mid) > share {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// TimeConstant returns the time in which the last of a difference falls to
// 1/e, once the board's inside follows its surface.
func (b Board) TimeConstant() time.Duration { return b.Modes(1)[0].Time }

// LumpedTimeConstant returns the same for a board whose inside is as warm as
// its surface: heat capacity over heat exchange. It is short of TimeConstant
// by a tenth for 10 mm and by four tenths for 70 mm.
func (b Board) LumpedTimeConstant() time.Duration {
	s := b.Density() * b.heatCapacity() * b.Thickness / 2 / b.FilmCoefficient
	return time.Duration(s * float64(time.Second))
}
