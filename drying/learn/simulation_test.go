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

// Five tests agree about a product; then comes one that hardly a coat of it
// would give, at any time and on either coat.
func TestAContradictionOfFiveThatAgreeMovesLittle(t *testing.T) {
	for family, spread := range families {
		worst := 0.0
		for _, truth := range []float64{0.6, 0.8, 1, 1.25, 1.8} {
			f := newFinisher(t, 0, spread)
			f.truth = math.Log(truth)
			f.agree()
			before := f.shop.Product("p").Factor
			if e := math.Abs(before/truth - 1); e > 0.13 {
				t.Fatalf("%s: five tests that agree on %v give %v", family, truth, before)
			}
			for when := 0.1; when < 10; when *= 1.05 {
				for _, feel := range feels {
					if f.usual(feel, when) < 0.02 {
						worst = max(worst, f.movedBy(feel, when, "a"), f.movedBy(feel, when, "other"))
					}
				}
			}
		}
		t.Logf("%s: moved by %.3f at most", family, worst)
		if !(worst > 0.01 && worst <= 0.15) {
			t.Errorf("%s: one contradiction of five tests that agree moved the factor by %.3f", family, worst)
		}
	}
}

// agree touches two coats that are just like the product's usual one.
func (f *finisher) agree() {
	truth := math.Exp(f.truth)
	for _, a := range []struct {
		coat string
		when float64 // in the coat's own time to set-to-touch
		feel Feel
	}{{"a", 0.8, Wet}, {"a", 1.25, Tacky}, {"b", 1.1, Tacky}, {"b", 1.7, Tacky}, {"b", 2.4, Dry}} {
		f.tests = append(f.tests, Test{Product: "p", Coat: a.coat, Gained: gained(a.when * truth), Feel: a.feel})
	}
	f.shop = learn(f.t, f.tests, f.priors)
}

// movedBy returns by how much one more test moves the product's factor.
func (f *finisher) movedBy(feel Feel, when float64, coat string) float64 {
	more := append(slices.Clone(f.tests), Test{Product: "p", Coat: coat, Gained: gained(when * math.Exp(f.truth)), Feel: feel})
	return math.Abs(learn(f.t, more, f.priors).Product("p").Factor/f.shop.Product("p").Factor - 1)
}

// The five tests are now as they come: some say next to nothing, and one in 25
// is wrong itself. Then a sixth can settle what they left open, and the bound
// holds in 95 cases of 100, not in all.
func TestAContradictionOfAnyFiveMovesLittle(t *testing.T) {
	for family, spread := range families {
		var moved []float64
		named := 0
		for seed := range uint64(finishers) {
			f := newFinisher(t, seed, spread)
			f.five(2)
			before := f.shop.Product("p").Factor
			f.tests = append(f.tests, f.contradiction())
			shop := learn(t, f.tests, f.priors)
			moved = append(moved, math.Abs(shop.Product("p").Factor/before-1))
			if slices.ContainsFunc(shop.Doubts(), func(d Doubt) bool { return d.Index == len(f.tests)-1 }) {
				named++
			}
		}
		t.Logf("%s: moved by %.3f (median), %.3f (95 in 100), %.3f (most); %d of %d contradictions named",
			family, median(moved), quantile(moved, 0.95), slices.Max(moved), named, finishers)
		if quantile(moved, 0.95) > 0.15 {
			t.Errorf("%s: in one case of twenty a contradiction moved the factor by %.3f or more", family, quantile(moved, 0.95))
		}
		if named < finishers*8/10 {
			t.Errorf("%s: %d of %d contradictions were named", family, named, finishers)
		}
	}
}

func (f *finisher) contradiction() Test {
	for {
		when := math.Exp(0.2 * f.r.NormFloat64())
		if f.r.IntN(2) == 1 {
			when *= tackToTouch
		}
		feel := feels[f.r.IntN(len(feels))]
		if f.usual(feel, when) < 0.02 {
			return Test{Product: "p", Coat: "other", Gained: gained(when * math.Exp(f.truth)), Feel: feel}
		}
	}
}

// usual is how many coats of the product feel so at a multiple of its own time.
func (f *finisher) usual(feel Feel, when float64) float64 {
	spread := math.Hypot(coatSpread, edge)
	wet, dry := normal(-math.Log(when)/spread), normal(math.Log(when/tackToTouch)/spread)
	switch feel {
	case Wet:
		return wet
	case Dry:
		return dry
	}
	return 1 - wet - dry
}

func learn(t *testing.T, tests []Test, priors map[string]Prior) *Shop {
	t.Helper()
	shop, err := Learn(tests, priors)
	if err != nil {
		t.Fatal(err)
	}
	return shop
}
