package drying

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"recoat/sensors"
)

// patchy is a record with gaps, nonsense, damp hours and doubled samples, a
// minute or so apart.
func patchy(r *rand.Rand, from time.Time, lasts time.Duration) []Sample {
	var all []Sample
	c := room(20, 55)
	for at := time.Duration(0); at < lasts; at += time.Duration(20+r.IntN(80)) * time.Second {
		switch r.IntN(60) {
		case 0:
			at += time.Duration(r.IntN(120)) * time.Minute
		case 1:
			c = room(sensors.Celsius(8+24*r.Float64()), sensors.RelativeHumidity(30+60*r.Float64()))
		case 2:
			all = append(all, Sample{from.Add(at), room(500, 50)})
			continue
		case 3:
			all = append(all, Sample{from.Add(at), room(20, 100)})
		}
		c.Air += sensors.Celsius(0.05 * r.NormFloat64())
		all = append(all, Sample{from.Add(at), c})
	}
	return all
}

// Sample by sample, with questions in between, the answers are those of the
// whole record at once.
func TestFollowerIsFollow(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 12 {
		p := everyKind()[r.IntN(len(kinds()))]
		p.Stated.RecoatBy = 3 * p.Stated.Times[DryToRecoat]
		coat := Coat{Product: p, Applied: noon.Add(7 * time.Second)}
		samples := patchy(r, noon.Add(-2*time.Hour), 20*time.Hour)
		f := NewFollower(coat)
		for i, s := range samples {
			if err := f.Add(s); err != nil {
				t.Fatal(err)
			}
			if i%9 != 0 && i < 200 || i%41 != 0 {
				continue
			}
			now := s.At.Add(time.Duration(r.IntN(15)) * time.Second)
			sameEstimates(t, f.Estimates(now, nil), Follow(coat, samples[:i+1], now, nil))
			sameEstimates(t, []Estimate{f.Window(now, nil)}, []Estimate{Window(coat, samples[:i+1], now, nil)})
		}
	}
}

// sameEstimates allows for the rounding of a sum that was cut elsewhere.
func sameEstimates(t *testing.T, got, want []Estimate) {
	t.Helper()
	for i := range want {
		g, w := got[i], want[i]
		near(t, "done", g.Done, w.Done, 1e-12)
		near(t, "gained", g.Gained, w.Gained, 1e-12*(1+w.Gained))
		within(t, "low", g.Low, w.Low, time.Microsecond)
		within(t, "likely", g.Likely, w.Likely, time.Microsecond)
		within(t, "high", g.High, w.High, time.Microsecond)
		g.Done, g.Gained, g.Low, g.Likely, g.High = w.Done, w.Gained, w.Low, w.Likely, w.High
		if !reflect.DeepEqual(g, w) {
			t.Fatalf("got %+v, want %+v", g, w)
		}
	}
}

// What is gained is the sum of the paces that Expect gives, each for as long
// as its sample stands: added up here without the code that follows coats.
func TestGainedIsTheSumOfPaces(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	for _, p := range everyKind() {
		coat := Coat{Product: p, Applied: noon}
		samples := patchy(r, noon, 9*time.Hour)
		now := samples[len(samples)-1].At
		for i, e := range Follow(coat, samples, now, nil) {
			sum, uncovered := 0.0, time.Duration(0)
			for j := range len(samples) - 1 {
				lasts := samples[j+1].At.Sub(samples[j].At)
				pace := p.Expect(samples[j].Conditions, 0)[i].Pace
				sum += pace * min(lasts, MaxGap).Seconds()
				if samples[j].Check() != nil {
					uncovered += lasts
				} else {
					uncovered += max(lasts-MaxGap, 0)
				}
			}
			near(t, p.Kind+" "+e.Stage.String(), e.Gained, sum/e.Stated.Seconds(), 1e-9*(1+e.Gained))
			if !e.Reached && e.Uncovered != uncovered {
				t.Errorf("%s %s: uncovered %v, want %v", p.Kind, e.Stage, e.Uncovered, uncovered)
			}
		}
	}
}

// Past a stage, Done stays at one and Gained goes on.
func TestGainedGoesOn(t *testing.T) {
	e := Follow(acrylic(), steady(room(23, 50), noon, 8*time.Hour), noon.Add(8*time.Hour), nil)[DryToRecoat]
	if e.Done != 1 {
		t.Errorf("done: got %v, want 1", e.Done)
	}
	near(t, "gained", e.Gained, 4, 1e-9)
}

func TestFollowerRefusesTheLate(t *testing.T) {
	f, c := NewFollower(acrylic()), room(21, 55)
	samples := steady(c, noon, 2*time.Hour)
	if err := f.Add(samples...); err != nil {
		t.Fatal(err)
	}
	want := f.Estimates(noon.Add(2*time.Hour), nil)[DryToRecoat]
	err := f.Add(Sample{noon.Add(time.Hour + time.Second), room(30, 30)}, samples[119])
	if !errors.Is(err, ErrLate) {
		t.Errorf("got %v, want it refused as late", err)
	}
	got := f.Estimates(noon.Add(2*time.Hour), nil)[DryToRecoat]
	if got.Done != want.Done || len(got.Doubts) != 1 || got.Doubts[0].Code != "out-of-order" {
		t.Errorf("got %+v, want the same as before, and a doubt", got)
	}
	// The latest one may still be put right, and asking for the past is safe.
	if err := f.Add(Sample{samples[119].At, room(500, 50)}); err != nil {
		t.Error(err)
	}
	if e := f.Estimates(noon, nil)[DryToRecoat]; !(e.Done > 0) || e.Likely.IsZero() {
		t.Errorf("of the past: got %+v", e)
	}
}

// Samples that came too soon, and those that came out of order before they
// were counted, are counted in their turn.
func TestFollowerWaits(t *testing.T) {
	samples := steady(room(21, 55), noon, 3*time.Hour)
	f := NewFollower(acrylic())
	for i := range samples {
		if err := f.Add(samples[len(samples)-1-i]); err != nil {
			t.Fatal(err)
		}
	}
	for _, h := range []time.Duration{1, 2, 3} {
		now := noon.Add(h * time.Hour)
		near(t, "done", f.Estimates(now, nil)[Handle].Done, Follow(acrylic(), samples, now, nil)[Handle].Done, 1e-12)
	}
}

// One step or a thousand: under constant conditions the same to 0.1 %.
func TestStepsAgree(t *testing.T) {
	for _, p := range everyKind() {
		coat, c := Coat{Product: p, Applied: noon}, room(19, 58)
		var fine []Sample
		for i := range 1000 {
			fine = append(fine, Sample{noon.Add(time.Duration(i) * 600 * time.Millisecond), c})
		}
		now := noon.Add(10 * time.Minute)
		one, thousand := Follow(coat, fine[:1], now, nil), Follow(coat, fine, now, nil)
		for i := range one {
			near(t, p.Kind+" gained", one[i].Gained/thousand[i].Gained, 1, 1e-9)
			near(t, p.Kind+" likely", seconds(one[i].Likely.Sub(noon))/seconds(thousand[i].Likely.Sub(noon)), 1, 1e-6)
			near(t, p.Kind+" high", seconds(one[i].High.Sub(noon))/seconds(thousand[i].High.Sub(noon)), 1, 1e-3)
		}
	}
}

func TestLearnt(t *testing.T) {
	c := room(21, 55)
	samples := steady(c, noon, 30*time.Minute)
	now := noon.Add(30 * time.Minute)
	with := func(l Learnt) Estimate {
		coat := acrylic()
		coat.Learnt = l
		return Follow(coat, samples, now, nil)[DryToRecoat]
	}
	none, slow := with(Learnt{}), with(Learnt{Factor: 1.2, Sigma: 0.1, Tests: 5})
	near(t, "1.2 times", slow.Likely.Sub(noon).Hours()/none.Likely.Sub(noon).Hours(), 1.2, 1e-9)
	near(t, "done", slow.Done*1.2, none.Done, 1e-12)
	near(t, "pace", slow.Pace*1.2, none.Pace, 1e-12)
	near(t, "gained", slow.Gained, none.Gained, 1e-12)
	if !reflect.DeepEqual(with(Learnt{Factor: 1}), none) {
		t.Error("a factor of one changes something")
	}
	// Five tests narrow the interval; what is projected still widens it.
	ratio := func(e Estimate) float64 { return math.Log(seconds(e.High.Sub(noon)) / seconds(e.Low.Sub(noon))) }
	if !(ratio(slow) < 0.75*ratio(none)) {
		t.Errorf("width %.3f after tests, %.3f without", ratio(slow), ratio(none))
	}
	after := func(l Learnt) Estimate {
		coat := acrylic()
		coat.Learnt = l
		return Follow(coat, steady(c, noon, 12*time.Hour), noon.Add(12*time.Hour), nil)[DryToRecoat]
	}
	near(t, "width when all is measured", ratio(after(Learnt{Factor: 1.2, Sigma: 0.1, Tests: 5})), 2*1.2816*0.1, 1e-3)
	// A prior without tests moves the time and leaves the family's spread.
	near(t, "a prior", ratio(after(Learnt{Factor: 1.2, Sigma: 0.1})), 2*1.2816*math.Log(1.3), 1e-3)
}

// Away from the label's conditions the law's own doubt stays.
func TestLearntKeepsTheLawsDoubt(t *testing.T) {
	l := Learnt{Sigma: 0.1, Tests: 5}
	near(t, "at the label", l.variance(0.3, 0.3), 0.01, 1e-12)
	near(t, "far from it", l.variance(0.5, 0.3), 0.01+0.25-0.09, 1e-12)
	near(t, "better than at the label", l.variance(0.2, 0.3), 0.01, 1e-12)
}

func TestLearntIsChecked(t *testing.T) {
	nan := math.NaN()
	for _, l := range []Learnt{{Factor: -1}, {Factor: nan}, {Factor: 50}, {Sigma: -1}, {Sigma: nan, Tests: 3}} {
		coat := acrylic()
		coat.Learnt = l
		if e := Follow(coat, nil, noon, nil)[DryToRecoat]; len(e.Blocked) != 1 || e.Blocked[0].Code != "product" {
			t.Errorf("%+v: got %+v, want a refusal", l, e)
		}
	}
}

// Touch tests bring the end of a recoat window nearer; they do not put it off.
func TestLearntAndTheWindow(t *testing.T) {
	coat := Coat{Product: label(TwoPart, "epoxy", 8*time.Hour), Applied: noon}
	coat.Product.Stated.RecoatBy = 72 * time.Hour
	samples := steady(room(23, 50), noon, time.Hour)
	for factor, want := range map[float64]time.Duration{0.5: 36 * time.Hour, 1: 72 * time.Hour, 2: 72 * time.Hour} {
		coat.Learnt = Learnt{Factor: factor, Sigma: 0.1, Tests: 3}
		within(t, "closes", Window(coat, samples, noon.Add(time.Hour), nil).Likely, noon.Add(want), time.Second)
	}
}
