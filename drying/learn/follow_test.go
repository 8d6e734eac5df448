package learn

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"recoat/drying"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// colour is a label that leaves the time to tack-free open, or states it.
func colour(tackFree time.Duration) drying.Product {
	p := drying.Product{Name: "colour", Family: drying.Waterborne, Kind: "acrylic", Stated: drying.Stated{Air: 23, Humidity: 50, Film: 100}}
	p.Stated.Times[drying.SetToTouch] = 30 * time.Minute
	p.Stated.Times[drying.TackFree] = tackFree
	p.Stated.Times[drying.DryToRecoat] = 2 * time.Hour
	return p
}

// atTheLabel are samples of the label's own conditions, a minute apart.
func atTheLabel(d time.Duration) (all []drying.Sample) {
	for at := time.Duration(0); at <= d; at += time.Minute {
		all = append(all, drying.Sample{At: noon.Add(at), Conditions: drying.Conditions{Air: 23, Surface: 23, SurfaceMeasured: true, Humidity: 50}})
	}
	return all
}

// MODEL.md: one σ on time is ×/÷ 1.3 for waterborne and 1.6 for oxidising
// finishes near their label's conditions, and a time that the label does not
// give adds 0.4.
func TestPriorOf(t *testing.T) {
	oil := drying.Product{Family: drying.Oxidising, Stated: drying.Stated{Air: 23, Humidity: 50}}
	oil.Stated.Times[drying.DryToRecoat] = 16 * time.Hour
	for _, c := range []struct {
		product drying.Product
		want    Prior
	}{
		{colour(time.Hour), Prior{Spread: math.Log(1.3)}},
		{colour(0), Prior{Spread: math.Log(1.3), Tack: 0.4}},
		{oil, Prior{Spread: math.Log(1.6), Touch: 0.4, Tack: 0.4}},
	} {
		got, err := PriorOf(c.product)
		if err != nil || math.Abs(got.Spread-c.want.Spread) > 1e-6 || math.Abs(got.Touch-c.want.Touch) > 1e-6 || math.Abs(got.Tack-c.want.Tack) > 1e-6 {
			t.Errorf("%s: %+v, %v, want %+v", c.product.Family, got, err, c.want)
		}
	}
	if _, err := PriorOf(drying.Product{}); err == nil || !strings.Contains(err.Error(), "family") {
		t.Errorf("a product without a family: %v", err)
	}
}

// Every family and kind gives a prior that Learn takes.
func TestPriorOfEveryKind(t *testing.T) {
	for _, family := range drying.Families() {
		for _, kind := range drying.Kinds(family) {
			p := drying.Product{Family: family, Kind: kind, Stated: drying.Stated{Air: 23, Humidity: 50}}
			p.Stated.Times[drying.DryToRecoat] = 4 * time.Hour
			prior, err := PriorOf(p)
			if err != nil {
				t.Errorf("%s %s: %v", family, kind, err)
				continue
			}
			learn(t, nil, map[string]Prior{"p": prior})
		}
	}
}

// A coat that takes 1.4 times its label is touched twice. What is learnt moves
// the times that the model gives of it, and of the next coat, to the truth.
func TestFromTheCoatToTheNext(t *testing.T) {
	const truth = 1.4
	p := colour(time.Hour)
	prior, err := PriorOf(p)
	if err != nil {
		t.Fatal(err)
	}
	samples := atTheLabel(2 * time.Hour)
	coat := drying.Coat{Product: p, Applied: noon}
	var tests []Test
	for _, found := range []struct {
		after time.Duration
		feel  Feel
	}{{39 * time.Minute, Wet}, {46 * time.Minute, Tacky}, {80 * time.Minute, Tacky}, {95 * time.Minute, Dry}} {
		test, err := NewTest("p", "a", drying.Follow(coat, samples, noon.Add(found.after), nil), found.feel)
		if err != nil {
			t.Fatal(err)
		}
		if want := found.after.Minutes() / 30; math.Abs(test.Gained[drying.SetToTouch]-want) > 1e-6 {
			t.Fatalf("after %v: gained %v, want %v", found.after, test.Gained[drying.SetToTouch], want)
		}
		tests = append(tests, test)
		// What was learnt leaves the label's clock alone.
		coat.Learnt = learn(t, tests, map[string]Prior{"p": prior}).Coat("p", "a")
	}
	for name, c := range map[string]drying.Coat{
		"the same coat": coat,
		"the next coat": {Product: p, Applied: noon, Learnt: learn(t, tests, map[string]Prior{"p": prior}).Coat("p", "b")},
	} {
		e := drying.Follow(c, samples, noon.Add(2*time.Hour), nil)[drying.DryToRecoat]
		want := noon.Add(time.Duration(truth * float64(2*time.Hour)))
		if off := e.Likely.Sub(want).Abs(); off > 17*time.Minute {
			t.Errorf("%s: ready to recoat at %v, want %v", name, e.Likely, want)
		}
		if want.Before(e.Low) || want.After(e.High) {
			t.Errorf("%s: ready from %v to %v, which leaves out %v", name, e.Low, e.High, want)
		}
	}
}

func TestNewTestRefuses(t *testing.T) {
	coat := drying.Coat{Product: colour(time.Hour), Applied: noon}
	gap := atTheLabel(40 * time.Minute)
	gap = append(gap[:5:5], gap[31:]...)
	cold := atTheLabel(40 * time.Minute)
	for i := range cold {
		cold[i].Air, cold[i].Surface = 4, 4
	}
	now := noon.Add(40 * time.Minute)
	for name, estimates := range map[string][]drying.Estimate{
		"a gap in the readings": drying.Follow(coat, gap, now, nil),
		"too cold to count":     drying.Follow(coat, cold, now, nil),
		"no readings":           drying.Follow(coat, nil, now, nil),
	} {
		if _, err := NewTest("p", "a", estimates, Wet); !errors.Is(err, ErrUncounted) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := NewTest("p", "a", nil, Wet); err == nil || !strings.Contains(err.Error(), "0 estimates") {
		t.Errorf("no estimates: %v", err)
	}
	if _, err := NewTest("p", "a", drying.Follow(coat, atTheLabel(40*time.Minute), now, nil), "soft"); err == nil || !strings.Contains(err.Error(), "soft") {
		t.Errorf("a feel that is none: %v", err)
	}
}
