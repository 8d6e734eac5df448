package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The forgetting regression against the weighted least squares that it stands
// for, solved at once.
func TestRidgeAgainstWeightedLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const rows = 200
	var r ridge
	x, y := mat.NewDense(rows+featureCount, featureCount, nil), mat.NewVecDense(rows+featureCount, nil)
	for i := range rows {
		var f features
		for k := range f {
			f[k] = rng.NormFloat64()
		}
		target := 2*f[0] - f[3] + 0.1*rng.NormFloat64()
		r.learn(&f, target)
		w := math.Sqrt(math.Pow(ridgeKeep, float64(rows-1-i)))
		for k := range f {
			x.Set(i, k, w*f[k])
		}
		y.SetVec(i, w*target)
	}
	for k := range featureCount { // the penalty is so many rows more
		x.Set(rows+k, k, math.Sqrt(ridgePenalty))
	}
	var want mat.VecDense
	if err := want.SolveVec(x, y); err != nil {
		t.Fatal(err)
	}
	for k := range featureCount {
		var unit features
		unit[k] = 1
		if got := r.predict(&unit); math.Abs(got-want.AtVec(k)) > 1e-9 {
			t.Errorf("weight %d: got %v, want %v", k, got, want.AtVec(k))
		}
	}
}

// Weighted quantiles against gonum's, whose weights are whole steps.
func TestWeightedQuantiles(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	w := newWeights()
	var p past
	const now = 2000
	var values, counts []float64
	for origin := now - 900; origin < now-12; origin++ {
		p.add(origin, rng.NormFloat64())
	}
	for e := range p.inOrder() {
		values = append(values, e.error)
		counts = append(counts, w.of(e.origin, now, 12))
	}
	levels := []float64{0.05, 0.1, 0.5, 0.9, 0.95}
	out := make([]float64, len(levels))
	p.quantiles(w, now, 12, levels, out, nil)
	for k, level := range levels {
		want := stat.Quantile(level, stat.Empirical, values, counts)
		i, _ := slices.BinarySearch(values, want)
		if low, high := values[max(i-1, 0)], values[min(i+1, len(values)-1)]; out[k] < low || out[k] > high {
			t.Errorf("level %v: got %v, want %v to %v", level, out[k], low, high)
		}
	}
}

// Errors are forgotten after so many origins; what is left is in order.
func TestPastForgets(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var p past
	want := map[int]float64{}
	for origin := range 3 * kept {
		if rng.IntN(10) == 0 {
			continue // a gap
		}
		err := float64(rng.IntN(50)) // often the same
		p.add(origin, err)
		delete(want, origin-kept)
		want[origin] = err
	}
	if !slices.IsSortedFunc(slices.Collect(p.inOrder()), pastError.compare) {
		t.Error("the errors are out of order")
	}
	recent := 0
	for origin, err := range want {
		if origin < 2*kept {
			continue
		}
		recent++
		if got, ok := p.of(origin); !ok || got != err {
			t.Fatalf("origin %d: got %v, %v, want %v", origin, got, ok, err)
		}
	}
	if recent < kept/2 || p.len() > kept {
		t.Errorf("%d errors looked at, %d kept", recent, p.len())
	}
}

func TestWidthAnswersMisses(t *testing.T) {
	for share, widens := range map[int]float64{5: 1, 2: 1.5, 20: 0.8} { // one miss in so many
		var w width
		for i := range 20 * checksPerDay {
			w.learn(i%share != 0)
		}
		got := w.factor(1)
		if share == 5 && math.Abs(got-1) > 0.1 || share < 5 && got < widens || share > 5 && got > widens {
			t.Errorf("one miss in %d: a factor of %.2f", share, got)
		}
	}
	if got := (&width{}).factor(leads); math.Abs(got-(1+longSlack)) > 1e-12 {
		t.Errorf("with nothing seen: a factor of %v two days ahead, want %v", got, 1+longSlack)
	}
}

func TestNormalAgainstGonum(t *testing.T) {
	for _, p := range []float64{0.001, 0.1, 0.5, 0.9, 0.9999} {
		if got, want := normal(p), (distuv.Normal{Sigma: 1}).Quantile(p); math.Abs(got-want) > 1e-9 {
			t.Errorf("normal quantile %v: got %v, want %v", p, got, want)
		}
	}
}

// The mean of season: a day counts half as much after halfLife days.
func TestSeason(t *testing.T) {
	s := newSeason(1)
	for i, v := range []float64{10, 20} { // two days, at the same half hour
		s.add(5+i*perDay, v)
	}
	if got, want := s.mean(5), (10*0.5+20)/1.5; math.Abs(got-want) > 1e-12 {
		t.Errorf("got %v, want %v", got, want)
	}
	if got, want := s.towards(5, 0), (10*0.5+20)/2.5; math.Abs(got-want) > 1e-12 {
		t.Errorf("towards zero: got %v, want %v", got, want)
	}
	if !math.IsNaN(s.mean(6)) {
		t.Error("a half hour that was never seen has a mean")
	}
}

// Pinball by hand, and that the true quantile has the least of it.
func TestPinball(t *testing.T) {
	for _, c := range []struct{ truth, said, p, want float64 }{{5, 3, 0.9, 1.8}, {3, 5, 0.9, 0.2}, {3, 5, 0.1, 1.8}, {4, 4, 0.5, 0}} {
		if got := Pinball(c.truth, c.said, c.p); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v: got %v", c, got)
		}
	}
	law := distuv.Normal{Mu: 3, Sigma: 2}
	loss := func(said float64) float64 {
		sum := 0.0
		for i := range 2000 {
			sum += Pinball(law.Quantile((float64(i)+0.5)/2000), said, 0.9)
		}
		return sum
	}
	if best := law.Quantile(0.9); loss(best) > loss(best+0.2) || loss(best) > loss(best-0.2) {
		t.Error("the true quantile does not have the least loss")
	}
}

func TestNaiveAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	var n naive
	var values []float64
	for range 101 {
		values = append(values, rng.NormFloat64())
		n.learn(values[len(values)-1])
	}
	n.learn(math.NaN())
	slices.Sort(values)
	got, ok := n.say(20)
	for k := range Levels {
		// Of 101 values the tenth lies on one: nothing is left to interpolate.
		if want := 20 + values[int(math.Round(Levels[k]*100))]; !ok || math.Abs(got[k]-want) > 1e-9 {
			t.Errorf("level %v: got %v, want %v", Levels[k], got[k], want)
		}
	}
	if _, ok := (&naive{errors: []float64{1, 2}}).say(20); ok {
		t.Error("two errors were enough")
	}
}

// An origin is drawn as often as its weight says.
func TestDrawsByWeight(t *testing.T) {
	d := orderer{rng: rand.New(rand.NewPCG(10, 11))}
	const members = 20000
	d.draw([]int{4, 7, 9}, members, func(origin int) float64 { return map[int]float64{4: 1, 7: 0, 9: 3}[origin] })
	counts := map[int]float64{}
	for _, origin := range d.origins {
		counts[origin]++
	}
	if got := counts[9] / members; counts[7] > 0 || math.Abs(got-0.75) > 0.02 || len(d.origins) != members {
		t.Errorf("drawn %v: want a quarter of 4 and the rest of 9", counts)
	}
}
