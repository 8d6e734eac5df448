package air

import (
	"math"
	"math/rand/v2"
	"testing"

	"recoat/sensors"
)

// A million draws of the two errors (JCGM 101:2008, propagation of
// distributions) give the spread of the dew point, and of its distance to a
// surface, that DewPointSigma reckons to first order.
func TestUncertaintyAgreesWithAMillionDraws(t *testing.T) {
	const draws = 1_000_000
	random := rand.New(rand.NewPCG(3, 14))
	for _, c := range []struct {
		air                 sensors.Celsius
		rh                  sensors.RelativeHumidity
		uAir, uRH, uSurface float64
	}{
		{20, 50, 0.3, 2, 0.5}, {20, 85, 0.3, 2, 0.5}, {10, 70, 0.3, 3, 0.5},
		{25, 35, 0.3, 2, 0.3}, {5, 80, 0.1, 1, 0.1}, {30, 60, 0.2, 1.2, 0.2},
	} {
		var sum, squares, marginSum, marginSquares float64
		first := float64(DewPoint(c.air, c.rh))
		for range draws {
			t := c.air + sensors.Celsius(c.uAir*random.NormFloat64())
			rh := min(c.rh+sensors.RelativeHumidity(c.uRH*random.NormFloat64()), 100)
			d := float64(DewPoint(t, rh)) - first
			m := c.uSurface*random.NormFloat64() - d
			sum, squares = sum+d, squares+d*d
			marginSum, marginSquares = marginSum+m, marginSquares+m*m
		}
		drawn := math.Sqrt(squares/draws - (sum/draws)*(sum/draws))
		reckoned := float64(DewPointSigma(c.air, c.rh, sensors.Kelvins(c.uAir), sensors.RelativeHumidity(c.uRH)))
		if math.Abs(reckoned/drawn-1) > 0.02 {
			t.Errorf("dew point at %v °C and %v %%: %.4f K reckoned, %.4f K drawn", c.air, c.rh, reckoned, drawn)
		}
		drawn = math.Sqrt(marginSquares/draws - (marginSum/draws)*(marginSum/draws))
		if reckoned = math.Hypot(reckoned, c.uSurface); math.Abs(reckoned/drawn-1) > 0.02 {
			t.Errorf("dew margin at %v °C and %v %%: %.4f K reckoned, %.4f K drawn", c.air, c.rh, reckoned, drawn)
		}
	}
}
