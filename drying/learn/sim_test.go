package learn

import (
	"math"
	"math/rand/v2"
	"testing"
	"slices"

	"recoat/drying"
)

const ratio = 2.0
func TestExplore(t *testing.T) {
	for _, spread := range []float64{math.Log(1.3), math.Log(1.6)} {
	for _, slip = range []float64{0.04, 0.08, 0.12} {
	slipped = slip/3
	for _, trueSlip := range []float64{0, 0.04} {
	for _, per := range []int{1,3,5} {
	for _, scatter := range []float64{0.2} {
	var errP, errC, errN []float64
	inP, inN := 0, 0
	var moved []float64
	const N = 250
	for seed := range N {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		truth := math.Log(0.6) + r.Float64()*math.Log(3)
		var tests []Test
		prior := map[string]Prior{"p": {Spread: spread}}
		shop, _ := Learn(nil, prior)
		var coat float64
		name := ""
		for i := range 5 {
			if i%per == 0 {
				coat = truth + coatSpread*r.NormFloat64()
				name = string(rune('a'+i))
			}
			l := shop.Coat("p", name)
			f := l.Factor
			if f == 0 { f = 1 }
			at := f * math.Exp(scatter*r.NormFloat64()) // in units of touch time
			if i%2 == 1 { at *= ratio }
			x := coat + edge*r.NormFloat64()
			feel := Tacky
			if math.Log(at) < x { feel = Wet } else if math.Log(at/ratio) > x { feel = Dry }
			if r.Float64() < trueSlip { feel = feels[r.IntN(3)] }
			var g [drying.StageCount]float64
			g[drying.SetToTouch], g[drying.TackFree] = at, at/ratio
			tests = append(tests, Test{"p", name, g, feel})
			shop, _ = Learn(tests, prior)
		}
		l := shop.Product("p")
		c := shop.Coat("p", name)
		errP = append(errP, math.Abs(l.Factor/math.Exp(truth)-1))
		errC = append(errC, math.Abs(c.Factor/math.Exp(coat)-1))
		nc := truth + coatSpread*r.NormFloat64()
		errN = append(errN, math.Abs(l.Factor/math.Exp(nc)-1))
		sp := math.Sqrt(l.Sigma*l.Sigma - coatSpread*coatSpread)
		if math.Abs(math.Log(l.Factor)-truth) < eightInTen*sp { inP++ }
		if math.Abs(math.Log(l.Factor)-nc) < eightInTen*l.Sigma { inN++ }
		worst := 0.0
		for _, a := range []float64{0.1, 0.25, 0.4, 0.7, 1, 1.4, 2, 2.8, 4, 8} {
			for _, f := range feels {
				pr := chance2(f, a)
				if pr > 0.02 { continue }
				var g [drying.StageCount]float64
				g[drying.SetToTouch], g[drying.TackFree] = a*math.Exp(truth), a/ratio*math.Exp(truth)
				s2, _ := Learn(append(slices.Clone(tests), Test{"p", "z", g, f}), prior)
				worst = max(worst, math.Abs(s2.Product("p").Factor/l.Factor-1))
			}
		}
		moved = append(moved, worst)
	}
	for _, e := range [][]float64{errP, errC, errN, moved} { slices.Sort(e) }
	t.Logf("slip %.2f true %.2f spread %.2f per %d scatter %.1f: median err product %.3f coat %.3f new %.3f; cover product %.2f new %.2f; moved med %.3f 95 %.3f max %.3f", slip, trueSlip, spread, per, scatter, errP[N/2], errC[N/2], errN[N/2], float64(inP)/N, float64(inN)/N, moved[N/2], moved[N*95/100], moved[N-1])
	}}}}}
}
func chance2(f Feel, a float64) float64 { s := math.Hypot(coatSpread, edge); w := normal(-math.Log(a)/s); d := normal(math.Log(a/ratio)/s); return map[Feel]float64{Wet: w, Dry: d, Tacky: 1-w-d}[f] }

