package learn

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"recoat/drying"
)

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

// everyPrior are those of every kind of finish, with all times on the label,
// and of one that leaves the time to tack-free open.
func everyPrior(t *testing.T) (all []Prior) {
	for _, family := range drying.Families() {
		for _, kind := range drying.Kinds(family) {
			p := drying.Product{Family: family, Kind: kind, Stated: drying.Stated{Air: 23, Humidity: 50}}
			p.Stated.Times[drying.SetToTouch], p.Stated.Times[drying.TackFree] = time.Hour, tackToTouch*time.Hour
			prior, err := PriorOf(p)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, prior)
		}
	}
	return append(all, Prior{Spread: math.Log(1.3), Tack: 0.4})
}

// The five tests are now as they come, on one coat or on several: some say next
// to nothing, and one in 25 is wrong itself. Whatever a sixth says against them,
// early or late, too dry or too wet, on the coat at hand, on an earlier one or on
// a new one: neither the product's time nor that of any of its coats moves by
// more than the bound.
func TestNoContradictionOfFiveMovesMuch(t *testing.T) {
	priors := everyPrior(t)
	const shards, each = 4, 510 // of shops
	for shard := range uint64(shards) {
		t.Run(fmt.Sprint(shard), func(t *testing.T) {
			t.Parallel()
			var s sixth
			for i := range uint64(each) {
				seed := 5000 + shard*each + i
				f := newFinisher(t, seed, 0.3)
				f.priors["p"] = priors[seed%uint64(len(priors))]
				f.five(1 + int(seed/7%5))
				s.contradict(f, true)
				s.contradict(f, false)
			}
			t.Logf("%d contradictions move the product by %.3f (95 in 100), %.3f (most), the coat by %.3f (most), its other coats by %.3f (most); %d named",
				len(s.product), quantile(s.product, 0.95), slices.Max(s.product), slices.Max(s.coat), slices.Max(s.others), s.named)
			for what, all := range map[string][]float64{"the product": s.product, "its coat": s.coat, "another coat of it": s.others} {
				if worst := slices.Max(all); !(worst > 0.05 && worst <= 0.15) {
					t.Errorf("%s moved by %.4f", what, worst)
				}
			}
			// The bound itself, but for what the grid's ends cut off a new coat.
			if worst := max(slices.Max(s.product), slices.Max(s.coat)); worst > math.Expm1(most)+1e-3 {
				t.Errorf("a test moved its product or its coat by %.4f: %.4f at most", worst, math.Expm1(most))
			}
			if s.named < len(s.product)*8/10 {
				t.Errorf("%d of %d contradictions were named", s.named, len(s.product))
			}
		})
	}
}

// sixth is by how much sixth tests moved what.
type sixth struct {
	product, coat, others []float64
	named                 int
}

func (s *sixth) contradict(f *finisher, tooWet bool) {
	on := "new"
	if k := f.r.IntN(len(f.tests) + 1); k < len(f.tests) {
		on = f.tests[k].Coat
	}
	tests := append(slices.Clone(f.tests), f.contradiction(on, tooWet))
	after := learn(f.t, tests, f.priors)
	s.product = append(s.product, moved(after.Product("p"), f.shop.Product("p")))
	for _, name := range append(coatsOf(f.tests), "new") {
		by := moved(after.Coat("p", name), f.shop.Coat("p", name))
		if name == on {
			s.coat = append(s.coat, by)
		} else {
			s.others = append(s.others, by)
		}
	}
	if slices.ContainsFunc(after.Doubts(), func(d Doubt) bool { return d.Index == len(tests)-1 }) {
		s.named++
	}
}

func moved(after, before drying.Learnt) float64 { return math.Abs(after.Factor/before.Factor - 1) }

func coatsOf(tests []Test) (names []string) {
	for _, t := range tests {
		if !slices.Contains(names, t.Coat) {
			names = append(names, t.Coat)
		}
	}
	return names
}

// contradiction is a test that not one coat in fifty of the product would give:
// wetter than it can be, or drier, from a tenth to ten times its own time.
func (f *finisher) contradiction(on string, tooWet bool) Test {
	for {
		when := math.Pow(10, 2*f.r.Float64()-1)
		feel := feels[f.r.IntN(len(feels))]
		early := when < math.Sqrt(tackToTouch)
		wetter := feel == Wet || feel == Tacky && !early
		if f.usual(feel, when) < 0.02 && wetter == tooWet {
			return Test{Product: "p", Coat: on, Gained: gained(when * math.Exp(f.truth)), Feel: feel}
		}
	}
}

// What one test was kept from saying, others that agree with it can say: where a
// product really has become slower, six more tests teach it.
func TestTestsThatAgreeWithEachOtherAreBelieved(t *testing.T) {
	for family, spread := range families {
		f := newFinisher(t, 0, spread)
		f.truth = math.Log(0.8)
		f.agree()
		const truth = 1.4
		for _, c := range []string{"x", "y", "z"} {
			f.tests = append(f.tests,
				Test{Product: "p", Coat: c, Gained: gained(0.85 * truth), Feel: Wet},
				Test{Product: "p", Coat: c, Gained: gained(1.8 * truth), Feel: Tacky})
		}
		if got := learn(t, f.tests, f.priors).Product("p").Factor; got < 1.1 {
			t.Errorf("%s: three coats that take %v times the label after two of 0.8 give %v", family, truth, got)
		}
	}
}
