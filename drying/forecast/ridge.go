package forecast

import "math"

// featureCount is how many differences the regression looks at.
const featureCount = 9

type features [featureCount]float64

// ridge is a linear regression that forgets, and is drawn towards zero.
type ridge struct {
	products [featureCount][featureCount]float64
	targets  features
}

const (
	ridgePenalty  = 100 // K², for a sum over half-hourly errors
	ridgeHalfLife = 5   // days
)

var ridgeKeep = math.Exp2(-1 / (ridgeHalfLife * float64(perDay)))

func (r *ridge) learn(x *features, target float64) {
	for a := range featureCount {
		for b := range a + 1 {
			r.products[a][b] = r.products[a][b]*ridgeKeep + x[a]*x[b]
		}
		r.targets[a] = r.targets[a]*ridgeKeep + x[a]*target
	}
}

// predict returns the regression's answer, by the Cholesky factors of the
// products. The penalty keeps those positive definite; should rounding break
// that all the same, the answer is zero.
func (r *ridge) predict(x *features) float64 {
	var lower [featureCount][featureCount]float64
	var half, answer features // the targets and x, through the lower factor
	sum := 0.0
	for a := range featureCount {
		half[a], answer[a] = r.targets[a], x[a]
		for b := range a {
			v := r.products[a][b]
			for c := range b {
				v -= lower[a][c] * lower[b][c]
			}
			lower[a][b] = v / lower[b][b]
			half[a] -= lower[a][b] * half[b]
			answer[a] -= lower[a][b] * answer[b]
		}
		square := r.products[a][a] + ridgePenalty
		for c := range a {
			square -= lower[a][c] * lower[a][c]
		}
		if !(square > 0) {
			return 0
		}
		lower[a][a] = math.Sqrt(square)
		half[a] /= lower[a][a]
		answer[a] /= lower[a][a]
		sum += half[a] * answer[a]
	}
	return sum
}
