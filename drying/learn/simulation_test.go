package learn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"recoat/drying"
)

// tackToTouch is how much longer than set-to-touch the simulated labels state
// for tack-free.
const tackToTouch = 2.0

// gained are the shares of a coat that was touched at a multiple of the label's
// time to set-to-touch.
func gained(touched float64) (g [drying.StageCount]float64) {
	g[drying.SetToTouch], g[drying.TackFree] = touched, touched/tackToTouch
	return g
}

// finisher touches coats of one product whose factor only the simulation knows.
type finisher struct {
	t      *testing.T
	r      *rand.Rand
	priors map[string]Prior
	truth  float64 // logarithm of the product's factor
	coat   float64 // of the coat at hand
	name   string
	tests  []Test
	shop   *Shop
}

// newFinisher draws a product that takes 0.6 to 1.8 times its label.
func newFinisher(t *testing.T, seed uint64, spread float64) *finisher {
	f := &finisher{t: t, r: rand.New(rand.NewPCG(seed, 1)), priors: map[string]Prior{"p": {Spread: spread}}}
	f.truth = math.Log(0.6) + f.r.Float64()*math.Log(1.8/0.6)
	f.shop = learn(t, nil, f.priors)
	return f
}

func (f *finisher) newCoat(name string) {
	f.name, f.coat = name, f.truth+coatSpread*f.r.NormFloat64()
}

// touch tests the coat at hand about when it is expected to be set to touch or
// free of tack, by what is known of it then: a fifth too early or late is usual.
func (f *finisher) touch() {
	expected := f.shop.Coat("p", f.name).Factor
	if len(f.tests) == 0 {
		expected = 1
	}
	if len(f.tests)%2 == 1 {
		expected *= tackToTouch
	}
	when := expected * math.Exp(0.2*f.r.NormFloat64())
	f.tests = append(f.tests, Test{Product: "p", Coat: f.name, Gained: gained(when), Feel: f.feel(when)})
	f.shop = learn(f.t, f.tests, f.priors)
}

// feel is what the finisher notes: now and then, one time in 25, anything.
func (f *finisher) feel(when float64) Feel {
	at := math.Log(when) - edge*f.r.NormFloat64()
	switch {
	case f.r.Float64() < 0.04:
		return feels[f.r.IntN(len(feels))]
	case at < f.coat:
		return Wet
	case at-math.Log(tackToTouch) < f.coat:
		return Tacky
	}
	return Dry
}

// five makes five touch tests, on coats of so many each.
func (f *finisher) five(each int) {
	for i := range 5 {
		if i%each == 0 {
			f.newCoat(fmt.Sprintf("c-%d", i))
		}
		f.touch()
	}
}

const finishers = 600

// families are the spreads of waterborne and of oxidising finishes near their
// label's conditions.
var families = map[string]float64{"waterborne": math.Log(1.3), "oxidising": math.Log(1.6)}

func TestFiveTouchTestsTeachTheReadyTime(t *testing.T) {
	for family, spread := range families {
		for _, each := range []int{1, 3} {
			t.Run(fmt.Sprintf("%s, %d to a coat", family, each), func(t *testing.T) {
				t.Parallel()
				s := simulate(t, spread, each)
				t.Logf("median error %.3f before, %.3f after (%.3f of the coat at hand, %.3f of the next); in the 80 %% interval %.3f of products, %.3f of next coats",
					median(s.before), median(s.after), median(s.own), median(s.next), s.share(s.held), s.share(s.heldNext))
				if median(s.after) >= 0.10 || median(s.own) >= 0.10 {
					t.Errorf("the median error is %.3f of a usual coat and %.3f of the coat at hand", median(s.after), median(s.own))
				}
				for _, share := range []float64{s.share(s.held), s.share(s.heldNext)} {
					if share < 0.75 || share > 0.88 {
						t.Errorf("the 80 %% interval held the truth %.3f of the time", share)
					}
				}
			})
		}
	}
}

// study is what became of many finishers. Errors are of a usual coat of the
// product before and after its tests, of the coat that was tested last, and of
// the next.
type study struct {
	before, after, own, next []float64
	held, heldNext           int // in the 80 % interval: the product's factor, the next coat's
}

func (s *study) share(n int) float64 { return float64(n) / float64(len(s.after)) }

func simulate(t *testing.T, spread float64, each int) study {
	var s study
	for seed := range uint64(finishers) {
		f := newFinisher(t, seed, spread)
		f.five(each)
		l, c := f.shop.Product("p"), f.shop.Coat("p", f.name)
		next := f.truth + coatSpread*f.r.NormFloat64()
		s.before = append(s.before, off(1, f.truth))
		s.after = append(s.after, off(l.Factor, f.truth))
		s.own = append(s.own, off(c.Factor, f.coat))
		s.next = append(s.next, off(l.Factor, next))
		if within(l.Factor, math.Sqrt(l.Sigma*l.Sigma-coatSpread*coatSpread), f.truth) {
			s.held++
		}
		if within(l.Factor, l.Sigma, next) {
			s.heldNext++
		}
	}
	return s
}

// off is the relative error of a factor whose true logarithm is known.
func off(factor, truth float64) float64 { return math.Abs(factor/math.Exp(truth) - 1) }

func within(factor, sigma, truth float64) bool {
	return math.Abs(math.Log(factor)-truth) < eightInTen*sigma
}

func median(v []float64) float64 { return quantile(v, 0.5) }

func quantile(v []float64, p float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[int(p*float64(len(v)-1))]
}

func learn(t *testing.T, tests []Test, priors map[string]Prior) *Shop {
	t.Helper()
	shop, err := Learn(tests, priors)
	if err != nil {
		t.Fatal(err)
	}
	return shop
}
