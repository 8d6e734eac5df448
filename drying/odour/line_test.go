package odour

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// The line against gonum's, on decays with noise as long as those that are read.
func TestStraightLineIsGonums(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		n := 12 + rng.IntN(37)
		x, y := make([]float64, n), make([]float64, n)
		slope := -rng.Float64() / 5
		for i := range x {
			x[i] = float64(i-n) + rng.Float64()/2
			y[i] = 5 + slope*x[i] + rng.NormFloat64()/10
		}
		level, got := straightLine(x, y)
		wantLevel, want := stat.LinearRegression(x, y, nil, false)
		if math.Abs(got-want) > 1e-12*(1+math.Abs(want)) || math.Abs(level-wantLevel) > 1e-10*(1+math.Abs(wantLevel)) {
			t.Fatalf("level %v and slope %v of %d points; gonum says %v and %v", level, got, n, wantLevel, want)
		}
	}
}
