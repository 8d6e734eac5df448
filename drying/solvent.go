package drying

import "math"

// Finishes that dry by losing solvent and nothing else: the rate goes with the
// solvent's own vapour pressure, r ∝ ps(T)·k(v), and time with the thickness to
// the power 1.5, between evaporation (1) and diffusion (2). Humidity hardly
// slows them; it turns them white, which is judged and not timed.
//
// The vapour pressures are Antoine equations, log₁₀(p/mmHg) = A − B/(C + T),
// with coefficients as handbooks give them, from memory; the tests hold them
// to published pressures. Only ratios over some 20 K count.
type antoine struct{ a, b, c float64 }

var (
	ethanol      = antoine{8.20417, 1642.89, 230.300} // shellac
	butylAcetate = antoine{7.02845, 1368.50, 204.000} // lacquer, whose thinner is a blend about as fast
	decane       = antoine{6.94365, 1495.17, 193.860} // mineral spirits, C9 to C12 alkanes
)

// pressure returns the vapour pressure in mmHg. All three hold from 10 °C to
// well above any room and are carried on below.
func (s antoine) pressure(celsius float64) float64 {
	return math.Exp(math.Ln10 * (s.a - s.b/(s.c+celsius)))
}

func solventLaw(s antoine) law {
	return law{
		rates: func(m *moist) rates {
			p := s.pressure(m.film)
			return rates{evaporation: p * airSpeedFactor(m.speed), reaction: p}
		},
		spread: always(oneIn(1.4)), // judgement
		// The last of the solvent diffuses out, which air speed does not help.
		evaporation:   [StageCount]float64{1, 1, 1, 1, 1, 0.7, 0.3},
		thickness:     rates{evaporation: 1.5, reaction: 1.5},
		surfaceSpread: 0.08, // 1 K
		humidityBand:  10,
	}
}
