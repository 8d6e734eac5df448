package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat/distuv"

	"recoat/drying"
)

func test(product, coat string, touched float64, f Feel) Test {
	return Test{Product: product, Coat: coat, Gained: gained(touched), Feel: f}
}

// NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.1 (area from 0
// to z, here with the half below 0; from memory).
func TestNormalDistribution(t *testing.T) {
	for z, want := range map[float64]float64{0: 0.5, 1: 0.84134, 1.28: 0.89973, 1.96: 0.97500, -1: 0.15866, -2.5: 0.00621} {
		if got := normal(z); math.Abs(got-want) > 5e-6 {
			t.Errorf("normal(%v) = %v, want %v", z, got, want)
		}
	}
}

// The grid against importance sampling with weights by the likelihood (A. B.
// Owen, Monte Carlo theory, methods and examples, chapter 9, from memory), of a
// shop in which one product's label leaves the time to tack-free open.
func TestTheGridAgreesWithSampling(t *testing.T) {
	priors := map[string]Prior{"full": {Spread: 0.26}, "open": {Spread: 0.4, Tack: 0.4}}
	tests := []Test{
		test("full", "a", 1.3, Wet), test("full", "a", 3.4, Dry), test("full", "b", 1.4, Tacky),
		test("open", "c", 0.9, Tacky), test("open", "c", 2.6, Tacky), test("open", "d", 2.9, Dry), test("open", "d", 3.5, Wet),
	}
	sampled := sample(tests, priors)
	shop := learn(t, tests, priors)
	// The shop's own effect is that of a product that was not tested, but for
	// what spreads such a product and its coats.
	priors["none"] = Prior{Spread: 0.3}
	effect := learn(t, tests, priors).Product("none")
	effect.Sigma = math.Sqrt(effect.Sigma*effect.Sigma - 0.3*0.3 - 0.12*0.12)
	for name, got := range map[string]drying.Learnt{
		"shop": effect, "full": shop.Product("full"), "open": shop.Product("open"),
		"full a": shop.Coat("full", "a"), "full b": shop.Coat("full", "b"), "open c": shop.Coat("open", "c"), "open d": shop.Coat("open", "d"),
	} {
		mean, sigma := sampled[name].moments()
		if math.Abs(math.Log(got.Factor)-mean) > 0.004 || math.Abs(got.Sigma-sigma) > 0.004 {
			t.Errorf("%s: ln factor %.4f ± %.4f, by sampling %.4f ± %.4f", name, math.Log(got.Factor), got.Sigma, mean, sigma)
		}
	}
}

// weighted are draws of one quantity with their weights.
type weighted struct{ sum, first, second float64 }

func (w *weighted) add(v, weight float64) {
	w.sum += weight
	w.first += weight * v
	w.second += weight * v * v
}

func (w *weighted) moments() (mean, sigma float64) {
	mean = w.first / w.sum
	return mean, math.Sqrt(w.second/w.sum - mean*mean)
}

func sample(tests []Test, priors map[string]Prior) map[string]*weighted {
	found := map[string]*weighted{}
	for _, name := range []string{"full", "open", "shop", "full a", "full b", "open c", "open d"} {
		found[name] = &weighted{}
	}
	r := rand.New(rand.NewPCG(3, 3))
	for range 300_000 {
		shop := 0.15 * r.NormFloat64()
		open := r.NormFloat64()
		drawn := map[string]float64{"shop": shop}
		for _, p := range []struct{ id, one, other string }{{"full", "a", "b"}, {"open", "c", "d"}} {
			own := shop + priors[p.id].Spread*r.NormFloat64()
			drawn[p.id+" "+p.one], drawn[p.id+" "+p.other] = own+0.12*r.NormFloat64(), own+0.12*r.NormFloat64()
			drawn[p.id] = own + 0.12*r.NormFloat64() // some coat of it
		}
		weight := 1.0
		for i := range tests {
			weight *= bare(&tests[i], drawn[tests[i].Product+" "+tests[i].Coat], open*priors[tests[i].Product].Tack)
		}
		for name, v := range drawn {
			found[name].add(v, weight)
		}
	}
	return found
}

// bare is the likelihood of a test, written down once more.
func bare(t *Test, factor, tackOff float64) float64 {
	touched := distuv.UnitNormal.CDF((math.Log(t.Gained[drying.SetToTouch]) - factor) / 0.1)
	free := distuv.UnitNormal.CDF((math.Log(t.Gained[drying.TackFree]) - factor - tackOff) / 0.1)
	free = min(free, touched)
	right := map[Feel]float64{Wet: 1 - touched, Tacky: touched - free, Dry: free}[t.Feel]
	return 0.92*right + 0.08/3
}

// Whatever tests say of one product, an untested one takes on the part of it
// that lies with the shop: the mean of a normal variable, given its sum with
// another, is its share of the variance times the sum (A. Gelman et al.,
// Bayesian Data Analysis, 3rd edition, appendix A, from memory).
func TestAnUntestedProductTakesOnTheShopsPart(t *testing.T) {
	priors := map[string]Prior{"tested": {Spread: 0.26}, "new": {Spread: 0.5}}
	var tests []Test
	for _, coat := range []string{"a", "b", "c"} {
		tests = append(tests, test("tested", coat, 1.3, Wet), test("tested", coat, 1.7, Tacky))
	}
	shop := learn(t, tests, priors)
	tested, fresh := shop.Product("tested"), shop.Product("new")
	want := math.Log(tested.Factor) * 0.15 * 0.15 / (0.15*0.15 + 0.26*0.26)
	if got := math.Log(fresh.Factor); math.Abs(got-want) > 1e-3 {
		t.Errorf("ln factor of the new product is %v, want %v", got, want)
	}
	if tested.Factor < 1.25 || fresh.Factor < 1.03 || fresh.Factor > 1.15 || fresh.Tests != 0 {
		t.Errorf("tested %+v, new %+v", tested, fresh)
	}
	if got := shop.Coat("new", "x"); got != fresh {
		t.Errorf("a coat of the new product: %+v, want %+v", got, fresh)
	}
}

func TestNothingLearnt(t *testing.T) {
	shop := learn(t, nil, map[string]Prior{"p": {Spread: 0.3}})
	for name, got := range map[string]drying.Learnt{
		"no test": shop.Product("p"), "no such product": shop.Product("q"), "no such coat": shop.Coat("p", "a"), "neither": shop.Coat("q", "a"),
	} {
		if got != (drying.Learnt{}) {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestWhichWayATestPoints(t *testing.T) {
	prior := map[string]Prior{"p": {Spread: 0.3}}
	for _, c := range []struct {
		why      string
		touched  float64
		feel     Feel
		low, top float64
	}{
		{"late and still wet: slower", 1.3, Wet, 1.15, 1.5},
		{"dry before its time: faster", 1.6, Dry, 0.6, 0.87},
		{"wet at once says nothing", 0.1, Wet, 0.999, 1.001},
		{"wet as it was put on says nothing", 0, Wet, 0.999, 1.001},
		{"dry long after says nothing", 20, Dry, 0.999, 1.001},
		{"tacky as the label says", math.Sqrt(tackToTouch), Tacky, 0.97, 1.03},
		{"dry at once is a slip", 0.05, Dry, 0.99, 1.001},
		{"dry as it was put on is a slip", 0, Dry, 0.999, 1.001},
		{"wet after a week is a slip", 500, Wet, 0.999, 1.001},
	} {
		got := learn(t, []Test{test("p", "a", c.touched, c.feel)}, prior).Product("p")
		if got.Factor < c.low || got.Factor > c.top || got.Tests != 1 {
			t.Errorf("%s: %+v, want a factor from %v to %v", c.why, got, c.low, c.top)
		}
	}
}

// A later time at which the coat is still wet never makes it faster, and an
// earlier one at which it is dry never slower, until it is taken for a slip.
func TestStrongerEvidencePointsFurther(t *testing.T) {
	prior := map[string]Prior{"p": {Spread: 0.3}}
	before := 0.0
	for touched := 0.3; touched < 1.4; touched *= 1.05 {
		f := learn(t, []Test{test("p", "a", touched, Wet)}, prior).Product("p").Factor
		if f < before-1e-9 {
			t.Fatalf("wet at %v gives %v, less than %v a little earlier", touched, f, before)
		}
		before = f
	}
	before = 10
	for touched := 6.0; touched > 1.4; touched /= 1.05 {
		f := learn(t, []Test{test("p", "a", touched, Dry)}, prior).Product("p").Factor
		if got := 1 / f; got < 1/before-1e-9 {
			t.Fatalf("dry at %v gives %v, more than %v a little later", touched, f, before)
		}
		before = f
	}
}

func TestACoatsOwnTestsSayMostOfIt(t *testing.T) {
	prior := map[string]Prior{"p": {Spread: 0.26}}
	tests := []Test{
		test("p", "slow", 1.35, Wet), test("p", "slow", 1.5, Tacky), test("p", "slow", 2.6, Tacky),
		test("p", "usual", 0.9, Wet), test("p", "usual", 1.1, Tacky), test("p", "usual", 2.2, Dry),
	}
	shop := learn(t, tests, prior)
	slow, usual, whole, other := shop.Coat("p", "slow"), shop.Coat("p", "usual"), shop.Product("p"), shop.Coat("p", "other")
	if !(usual.Factor < whole.Factor && whole.Factor < slow.Factor) {
		t.Errorf("usual %v, product %v, slow %v", usual.Factor, whole.Factor, slow.Factor)
	}
	if !(slow.Sigma < whole.Sigma && usual.Sigma < whole.Sigma) {
		t.Errorf("sigma of the coats %v and %v, of the product %v: a tested coat is better known", slow.Sigma, usual.Sigma, whole.Sigma)
	}
	if other != whole || slow.Tests != len(tests) {
		t.Errorf("an untested coat %+v, the product %+v, a tested coat %+v", other, whole, slow)
	}
}

// Where the label does not say when a coat is free of tack, a test against that
// time says less of the product, and no less of the time itself.
func TestATestAgainstAnAssumedTimeSaysLess(t *testing.T) {
	tests := []Test{test("p", "a", 3.4, Tacky), test("p", "b", 3.2, Tacky)}
	stated := learn(t, tests, map[string]Prior{"p": {Spread: 0.3}}).Product("p")
	assumed := learn(t, tests, map[string]Prior{"p": {Spread: 0.3, Tack: 0.4}}).Product("p")
	if !(1.05 < assumed.Factor && assumed.Factor < stated.Factor-0.1 && assumed.Sigma > stated.Sigma) {
		t.Errorf("stated %+v, assumed %+v", stated, assumed)
	}
}

func TestUndoAndOrder(t *testing.T) {
	f := newFinisher(t, 5, 0.3)
	f.priors["q"] = Prior{Spread: 0.4, Touch: 0.4, Tack: 0.4}
	f.five(2)
	tests := append(f.tests, test("q", "x", 1.2, Wet), test("q", "y", 1.5, Tacky))
	first, again := learn(t, tests, f.priors), learn(t, tests, f.priors)
	if d := cmp.Diff(read(first), read(again)); d != "" {
		t.Errorf("the same tests give another answer: %s", d)
	}
	shuffled := slices.Clone(tests)
	f.r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	close := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
	if d := cmp.Diff(read(first), read(learn(t, shuffled, f.priors)), close); d != "" {
		t.Errorf("in another order: %s", d)
	}
	undone := learn(t, append(slices.Clone(tests), test("p", "c-0", 9, Wet))[:len(tests)], f.priors)
	if d := cmp.Diff(read(first), read(undone)); d != "" {
		t.Errorf("after a test was undone: %s", d)
	}
}

func read(s *Shop) map[string]drying.Learnt {
	return map[string]drying.Learnt{"p": s.Product("p"), "q": s.Product("q"), "coat": s.Coat("p", "c-0"), "other": s.Coat("q", "y")}
}

func TestManyTestsStayFinite(t *testing.T) {
	var tests []Test
	for i := range 300 { // all on one coat, and at odds with each other
		tests = append(tests, test("p", "a", 0.2, Dry), test("p", "a", 9, Wet), test("p", string(rune('b'+i%20)), 1.4, Tacky))
	}
	shop := learn(t, tests, map[string]Prior{"p": {Spread: 1.5, Touch: 1.5, Tack: 1.5}, "q": {Spread: 0.05}})
	for _, l := range []drying.Learnt{shop.Product("p"), shop.Product("q"), shop.Coat("p", "a"), shop.Coat("p", "c")} {
		if !(l.Factor >= 0.1 && l.Factor <= 10 && l.Sigma > 0 && l.Sigma <= 2) {
			t.Errorf("learnt %+v", l)
		}
	}
	if n := len(shop.Doubts()); n < 290 {
		t.Errorf("of 600 tests that exclude each other, 300 a way, %d are doubted", n)
	}
}

func TestDoubts(t *testing.T) {
	f := newFinisher(t, 0, 0.26)
	f.truth = math.Log(1.2)
	f.agree()
	if d := f.shop.Doubts(); len(d) != 0 {
		t.Fatalf("five tests that agree are doubted: %+v", d)
	}
	tests := append([]Test{test("p", "a", 4, Wet)}, f.tests...)
	d := learn(t, tests, f.priors).Doubts()
	if len(d) != 1 || d[0].Index != 0 || d[0].Likely != Dry || !(d[0].Probability > 0.9) || d[0].Test != tests[0] {
		t.Fatalf("doubts %+v", d)
	}
	for _, want := range []string{"coat a", "noted as wet", "4.0×", "likely dry", "undo"} {
		if !strings.Contains(d[0].Text, want) {
			t.Errorf("%q does not say %q", d[0].Text, want)
		}
	}
}

func TestSentence(t *testing.T) {
	priors := map[string]Prior{"p": {Spread: 0.26}, "q": {Spread: 0.3}}
	say := func(tests ...Test) (p, q string) {
		shop := learn(t, tests, priors)
		return shop.Sentence("p", "Quiet Harbour"), shop.Sentence("q", "Long Meadow")
	}
	if p, _ := say(); p != "no touch test says how long Quiet Harbour takes in your shop: the label's times stand" {
		t.Error(p)
	}
	p, q := say(test("p", "a", 1.3, Wet), test("p", "a", 1.6, Tacky), test("p", "b", 1.25, Wet))
	if p != "in your shop Quiet Harbour takes 1.4× the label's time, from 3 touch tests (a coat may need from 1.1× to 1.8×)" {
		t.Error(p)
	}
	if q != "no touch test of Long Meadow yet: by your other products it is taken to need 1.1× the label's time" {
		t.Error(q)
	}
	if p, _ = say(test("p", "a", 1.4, Tacky)); !strings.HasPrefix(p, "in your shop Quiet Harbour takes the label's time, from 1 touch test (") {
		t.Error(p)
	}
}

func TestLearnRefuses(t *testing.T) {
	good := map[string]Prior{"p": {Spread: 0.3}}
	broken := func(g float64) Test {
		x := test("p", "c-7", 1, Wet)
		x.Gained[drying.TackFree] = g
		return x
	}
	for want, c := range map[string]struct {
		tests  []Test
		priors map[string]Prior
	}{
		`found "soft": wet, tacky or dry`:    {[]Test{test("p", "c-7", 1, "soft")}, good},
		"nothing is known of its product q":  {[]Test{test("q", "c-7", 1, Wet)}, good},
		"coat c-7 was made at NaN":           {[]Test{broken(math.NaN())}, good},
		"coat c-7 was made at +Inf":          {[]Test{broken(math.Inf(1))}, good},
		"coat c-7 was made at -1":            {[]Test{broken(-1)}, good},
		"product p: the spread is 0":         {nil, map[string]Prior{"p": {}}},
		"product p: the spread is NaN":       {nil, map[string]Prior{"p": {Spread: math.NaN()}}},
		"does not give is 2: 0 to 1.5 would": {nil, map[string]Prior{"p": {Spread: 0.3, Tack: 2}}},
	} {
		if _, err := Learn(c.tests, c.priors); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func BenchmarkLearn(b *testing.B) {
	var tests []Test
	priors := map[string]Prior{}
	for p := range 10 {
		id := string(rune('a' + p))
		priors[id] = Prior{Spread: 0.3, Tack: 0.4}
		for c := range 50 {
			coat := string(rune('A' + c))
			tests = append(tests, test(id, coat, 1.3, Wet), test(id, coat, 2.5, Tacky))
		}
	}
	for b.Loop() {
		if _, err := Learn(tests, priors); err != nil {
			b.Fatal(err)
		}
	}
}
