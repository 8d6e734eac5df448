package drying

import (
	"math"
	"slices"
	"testing"
	"time"

	"recoat/sensors"
)

// At the label's own conditions each second is a second of the label's time.
func TestAMeterReadsTheLabelBack(t *testing.T) {
	for _, f := range Families() {
		for _, k := range Kinds(f) {
			p := Product{Name: "Label", Family: f, Kind: k, Stated: Stated{Air: 23, Humidity: 50, RecoatBy: 90 * 24 * time.Hour}}
			p.Stated.Times[DryToRecoat] = 4 * time.Hour
			p, err := p.Complete()
			if err != nil {
				t.Fatal(err)
			}
			g, err := NewMeter(Coat{Product: p, Learnt: Learnt{Factor: 1.25}})
			if err != nil {
				t.Fatal(err)
			}
			read, ok := g.Read(p.Stated.conditions())
			if !ok || read.Broken != 0 {
				t.Fatalf("%s %s: known %v, broken %b", f, k, ok, read.Broken)
			}
			for _, s := range Stages() {
				if got := read.Rates[s] * p.Stated.Times[s].Seconds() * 1.25; math.Abs(got-1) > 1e-9 {
					t.Errorf("%s %s: %s runs at %v of the label", f, k, s, got)
				}
			}
			// What makes the product slow does not put its window off.
			if got := read.Window * p.Stated.RecoatBy.Seconds(); math.Abs(got-1) > 1e-9 {
				t.Errorf("%s %s: the window runs at %v of the label", f, k, got)
			}
		}
	}
}

// A meter finds the limits broken that Judge gives as reasons, and says so in
// the same words.
func TestAMeterFindsTheLimitsThatJudgeFinds(t *testing.T) {
	p := Product{Name: "Label", Family: Solvent, Kind: "lacquer", Stated: Stated{Air: 23, Humidity: 50}}
	p.Stated.Times[DryToRecoat] = time.Hour
	g, err := NewMeter(Coat{Product: p})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []Conditions{{Air: 23, Humidity: 50, Surface: 23}, {Air: 6, Humidity: 50, Surface: 7}, {Air: 24, Humidity: 72, Surface: 24}, {Air: 30, Humidity: 95, Surface: 12}} {
		read, _ := g.Read(c)
		var found []string
		for i := range g.Limits() {
			if read.Broken&(1<<i) != 0 {
				found = append(found, g.Against(c, i).Text)
			}
		}
		judged := p.Judge(c, Uncertainty{})
		if (judged.State == Unfit) != (len(found) > 0) {
			t.Errorf("%+v: %v, but the meter finds %q", c, judged.State, found)
		}
		if stopped := p.Expect(c, 0)[DryToRecoat]; (stopped.Pace == 0) != (read.Rates[DryToRecoat] == 0) {
			t.Errorf("%+v: pace %v, rate %v", c, stopped.Pace, read.Rates[DryToRecoat])
		}
		for _, r := range p.Expect(c, 0)[DryToRecoat].Blocked {
			if !slices.Contains(found, r.Text) {
				t.Errorf("%+v: %q stops the clock; the meter finds %q", c, r.Text, found)
			}
		}
	}
}

func TestAMeterSaysWhatItCannotRead(t *testing.T) {
	p := Product{Name: "Label", Family: TwoPart, Stated: Stated{Air: 23, Humidity: 50}}
	p.Stated.Times[DryToRecoat] = time.Hour
	g, err := NewMeter(Coat{Product: p})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []Conditions{{Air: 20}, {Air: sensors.Celsius(math.NaN()), Humidity: 50}, {Air: 20, Humidity: 50, Surface: 85}} {
		if read, ok := g.Read(c); ok || read != (Gauge{}) {
			t.Errorf("%+v reads %+v", c, read)
		}
	}
	if _, err := NewMeter(Coat{}); err == nil {
		t.Error("no product, and yet a meter")
	}
	if g.Fixed(DryToRecoat) != 0 || g.Fixed(Handle) <= 0 {
		t.Errorf("fixed: %v for a stated stage, %v for an assumed one", g.Fixed(DryToRecoat), g.Fixed(Handle))
	}
}
