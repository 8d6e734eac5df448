package learn

import (
	"errors"
	"fmt"
	"math"

	"recoat/drying"
)

// Feel is what a finisher found by touch.
type Feel string

// What a touch test can find.
const (
	Wet   Feel = "wet"   // comes off on the finger: not yet set-to-touch
	Tacky Feel = "tacky" // set-to-touch, not yet tack-free
	Dry   Feel = "dry"   // tack-free
)

var feels = [...]Feel{Wet, Tacky, Dry}

// Test is one touch test. A coat is known by its product and its own id.
type Test struct {
	Product, Coat string
	// Gained is, for each stage, the share of its stated time that had passed
	// on the label's clock when the coat was touched: drying.Estimate.Gained.
	// Only set-to-touch and tack-free count here.
	Gained [drying.StageCount]float64
	Feel   Feel
}

// ErrUncounted is the error of NewTest where the label's clock says too little.
var ErrUncounted = errors.New("the label's clock did not run along")

// uncounted is the share of the label's clock that may be missing from it for
// lack of readings. Judgement.
const uncounted = 0.1

// NewTest returns the test of a coat that was touched at the instant for which
// the estimates hold: one for every stage, in order, as Follow gives them. Where
// the clock stood still just then, or more than a tenth of it is missing, the
// test says nothing of the product, and the error is ErrUncounted.
func NewTest(product, coat string, at []drying.Estimate, f Feel) (Test, error) {
	t := Test{Product: product, Coat: coat, Feel: f}
	if len(at) != drying.StageCount {
		return t, fmt.Errorf("read the touch test of coat %s: there are %d estimates: one for each of the %d stages would do", coat, len(at), drying.StageCount)
	}
	for s, e := range at {
		t.Gained[s] = e.Gained
	}
	for _, s := range []drying.Stage{drying.SetToTouch, drying.TackFree} {
		e := at[s]
		if !e.Reached && e.Pace == 0 {
			return t, fmt.Errorf("read the touch test of coat %s: %w: it stood still when the coat was touched", coat, ErrUncounted)
		}
		if e.Uncovered.Seconds() > uncounted*e.Gained*e.Stated.Seconds() {
			return t, fmt.Errorf("read the touch test of coat %s: %w: for %v there were no readings", coat, ErrUncounted, e.Uncovered)
		}
	}
	return t, t.check()
}

func (t Test) check() error {
	if t.Feel != Wet && t.Feel != Tacky && t.Feel != Dry {
		return fmt.Errorf("the touch test of coat %s found %q: wet, tacky or dry would do", t.Coat, t.Feel)
	}
	for _, s := range []drying.Stage{drying.SetToTouch, drying.TackFree} {
		if g := t.Gained[s]; !(g >= 0) || math.IsInf(g, 1) {
			return fmt.Errorf("the touch test of coat %s was made at %v of the time to %v: 0 or more would do", t.Coat, g, s)
		}
	}
	return nil
}

// edge is by how much what one touch calls tacky differs from what the next
// does, as a standard deviation of the logarithm of time, and slip how often what
// is noted is not what was felt: the wrong coat, the wrong button. Judgement.
const (
	edge = 0.10
	slip = 0.08
)

// slipped is how likely a finding is in which somebody slipped: any of three.
const slipped = slip / 3

// chance returns how likely each finding is where a coat takes exp(x) times the
// label's time, if nobody slips. touch and tack are the logarithms of the shares
// that are gained on the way to the two stages.
func chance(f Feel, x, touch, tack float64) float64 {
	tack = min(tack, touch) // what has no tack is set to touch
	switch f {
	case Wet:
		return normal((x - touch) / edge)
	case Dry:
		return normal((tack - x) / edge)
	}
	return max(normal((touch-x)/edge)-normal((tack-x)/edge), 0)
}

// likelihood allows for a slip.
func likelihood(f Feel, x, touch, tack float64) float64 {
	return (1-slip)*chance(f, x, touch, tack) + slipped
}

// normal is the distribution function of the standard normal distribution.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
