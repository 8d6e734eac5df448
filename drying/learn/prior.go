package learn

import (
	"fmt"
	"math"

	"recoat/drying"
)

// Prior is what is known of a product before it is tested.
type Prior struct {
	// Spread is the standard deviation of the logarithm of a coat's time about
	// what the label says, 0.05 to 1.5: what the family's law is good to.
	Spread float64
	// Touch and Tack are those of the product's times to set-to-touch and to
	// tack-free besides, 0 to 1.5, where the label does not give them: a test
	// against such a time says less of the product.
	Touch, Tack float64
}

// How far shops differ, and coats within one, as standard deviations of the
// logarithm of time: the sensors' place, the light and the draught there;
// mixing, film and wood here. Judgement.
const (
	shopSpread = 0.15
	coatSpread = 0.12
)

func (p Prior) check() error {
	if !(p.Spread >= 0.05 && p.Spread <= 1.5) {
		return fmt.Errorf("the spread is %v: 0.05 to 1.5 would do", p.Spread)
	}
	for _, v := range []float64{p.Touch, p.Tack} {
		if !(v >= 0 && v <= 1.5) {
			return fmt.Errorf("the spread of a time that the label does not give is %v: 0 to 1.5 would do", v)
		}
	}
	return nil
}

// eightInTen is how many standard deviations to either side hold eight in ten
// of a normal distribution: what lies between Low and High.
const eightInTen = 1.2815515655446004

// PriorOf reads the prior off the intervals that a product's times have at its
// label's own conditions. It refuses what drying.Product.Complete refuses.
func PriorOf(p drying.Product) (Prior, error) {
	p, err := p.Complete()
	if err != nil {
		return Prior{}, fmt.Errorf("judge the product before its first touch test: %w", err)
	}
	own := drying.Conditions{Air: p.Stated.Air, Humidity: p.Stated.Humidity, Surface: p.Stated.Air, SurfaceMeasured: true}
	var spread [drying.StageCount]float64
	law := math.Inf(1)
	for s, e := range p.Expect(own, 0) {
		spread[s] = math.Log(e.High.Seconds()/e.Expected.Seconds()) / eightInTen
		law = min(law, spread[s]) // at least one time is the label's own
	}
	prior := Prior{Spread: law, Touch: besides(spread[drying.SetToTouch], law), Tack: besides(spread[drying.TackFree], law)}
	return prior, prior.check()
}

// besides returns the spread that is in all but not in law.
func besides(all, law float64) float64 {
	if all < law+1e-6 { // a stated time, but for the rounding of durations
		return 0
	}
	return math.Sqrt(all*all - law*law)
}

// gained returns the logarithms of the shares that a test had gained on its way
// to set-to-touch and to tack-free, if the times that the label does not give
// are off by so many standard deviations.
func (p Prior) gained(t *Test, off float64) (touch, tack float64) {
	return math.Log(t.Gained[drying.SetToTouch]) - off*p.Touch, math.Log(t.Gained[drying.TackFree]) - off*p.Tack
}
