package forecast

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

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

// solver holds the room that solving takes, so that it is made once.
type solver struct {
	products *mat.SymDense
	factors  mat.Cholesky
	weights  *mat.VecDense
}

func newSolver() *solver {
	return &solver{products: mat.NewSymDense(featureCount, nil), weights: mat.NewVecDense(featureCount, nil)}
}

// predict returns the regression's answer. The penalty keeps the products
// positive definite; should rounding break that all the same, it is zero.
func (s *solver) predict(r *ridge, x *features) float64 {
	for a := range featureCount {
		for b := range a + 1 {
			s.products.SetSym(a, b, r.products[a][b])
		}
		s.products.SetSym(a, a, r.products[a][a]+ridgePenalty)
	}
	if !s.factors.Factorize(s.products) {
		return 0
	}
	if err := s.factors.SolveVecTo(s.weights, mat.NewVecDense(featureCount, r.targets[:])); err != nil {
		return 0
	}
	return mat.Dot(s.weights, mat.NewVecDense(featureCount, x[:]))
}
