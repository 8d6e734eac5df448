package drying

import (
	"math"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

// tackCoat is the row "tack coat, earliest recoat" of UFGS 09971, which the
// epoxy law alone misses by more than half: 24 h at 18.3 °C, 16 h at 29.7 °C,
// 10 h at 40.8 °C, 8 h at 46.4 °C.
func tackCoat(rows map[sensors.Celsius]float64) Product {
	p := anchored("epoxy", 18.3, 24)
	for _, at := range []sensors.Celsius{29.7, 40.8, 46.4} {
		if h, ok := rows[at]; ok {
			row := Further{Air: at, Humidity: 50}
			row.Times[DryToRecoat] = time.Duration(h * float64(time.Hour))
			p.Further = append(p.Further, row)
		}
	}
	return p
}

// A row of a published table that was left out is found again, within a tenth,
// from the rows that were put in; without them it is missed by half.
func TestALabelWithSeveralConditionsIsFittedThroughThem(t *testing.T) {
	published := map[sensors.Celsius]float64{29.7: 16, 40.8: 10, 46.4: 8}
	alone := tackCoat(nil).Expect(room(40.8, 50), 0)[DryToRecoat].Expected.Hours()
	if math.Abs(alone/10-1) < 0.4 {
		t.Fatalf("the law alone gives %.1f h: this test shows nothing", alone)
	}
	for left := range published {
		rows := map[sensors.Celsius]float64{}
		for at, h := range published {
			if at != left {
				rows[at] = h
			}
		}
		if left == 46.4 {
			continue // beyond the other rows nothing more is claimed
		}
		p := tackCoat(rows)
		got := p.Expect(room(left, 50), 0)[DryToRecoat].Expected.Hours()
		if math.Abs(got/published[left]-1) > 0.1 {
			t.Errorf("without the row at %v °C: %.2f h, published %v h", left, got, published[left])
		}
	}
	p := tackCoat(published)
	fit, err := p.LabelFit()
	if err != nil || fit.Times != 3 || fit.Off < 2 || fit.Left > 1.1 {
		t.Errorf("%+v, %v", fit, err)
	}
	if s := fit.Sentence(); !strings.Contains(s, "3 more times") || !strings.Contains(s, "fitted through them") {
		t.Error(s)
	}
	at := p.Expect(room(18.3, 50), 0)[DryToRecoat]
	if at.Expected != 24*time.Hour {
		t.Errorf("at the first conditions: %v", at.Expected)
	}
}

func TestOneFurtherRowIsMetAndNotGoneBeyond(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	row := Further{Air: 10, Humidity: 50}
	row.Times[DryToRecoat] = 8 * time.Hour
	p.Further = []Further{row}
	if got := p.Expect(room(10, 50), 0)[DryToRecoat].Expected; math.Abs(got.Hours()/8-1) > 0.02 {
		t.Errorf("at the row: %v", got)
	}
	plain := label(Waterborne, "acrylic", 2*time.Hour)
	factor := func(at sensors.Celsius, rh sensors.RelativeHumidity) float64 {
		return float64(p.Expect(room(at, rh), 0)[DryToRecoat].Expected) / float64(plain.Expect(room(at, rh), 0)[DryToRecoat].Expected)
	}
	if a, b := factor(12, 50), factor(10, 50); a >= b {
		t.Errorf("×%.3f at 12 °C, ×%.3f at 10 °C", a, b)
	}
	p.Limits.AirMin, plain.Limits.AirMin = 6, 6
	p.Limits.HasFilmForms, plain.Limits.HasFilmForms = true, true
	if a, b := factor(7, 50), factor(10, 50); math.Abs(a/b-1) > 1e-6 {
		t.Errorf("beyond the row it goes on: ×%.3f against ×%.3f", a, b)
	}
	if a := factor(26, 50); math.Abs(a-1) > 1e-6 {
		t.Errorf("on the other side of the first conditions: ×%.3f", a)
	}
	if a := factor(23, 70); math.Abs(a-1) > 1e-6 {
		t.Errorf("in a humidity of which the label says nothing: ×%.3f", a)
	}
}

// Rows that contradict each other leave something, which the interval takes up.
func TestAContradictoryLabelWidensTheInterval(t *testing.T) {
	one, two := label(Waterborne, "acrylic", 2*time.Hour), label(Waterborne, "acrylic", 2*time.Hour)
	rows := []Further{{Air: 15, Humidity: 50}, {Air: 15.5, Humidity: 50}}
	rows[0].Times[DryToRecoat], rows[1].Times[DryToRecoat] = 3*time.Hour, 12*time.Hour
	one.Further, two.Further = rows[:1], rows
	width := func(p Product) float64 {
		e := p.Expect(room(15, 50), 0)[DryToRecoat]
		return float64(e.High) / float64(e.Low)
	}
	fit, err := two.LabelFit()
	if err != nil || fit.Left < 1.7 || width(two) <= width(one) {
		t.Errorf("%+v, %v; width %.2f against %.2f", fit, err, width(two), width(one))
	}
}

func TestFurtherRowsThatAreRefused(t *testing.T) {
	ok := Further{Air: 10, Humidity: 50}
	ok.Times[DryToRecoat] = 6 * time.Hour
	for says, change := range map[string]func(*Product){
		"row 1 is at 23 °C and 50 % again":         func(p *Product) { p.Further[0].Air = 23 },
		"row 1, air, is 90 °C":                     func(p *Product) { p.Further[0].Air = 90 },
		"row 1, rh, is 0 %":                        func(p *Product) { p.Further[0].Humidity = 0 },
		"row 1: stated.recoat is 1s":               func(p *Product) { p.Further[0].Times[DryToRecoat] = time.Second },
		"row 1 gives stated.handle, which":         func(p *Product) { p.Further[0].Times[Handle] = time.Hour },
		"row 1 holds no stage time":                func(p *Product) { p.Further[0].Times[DryToRecoat] = 0 },
		"9 rows: at most 8":                        func(p *Product) { p.Further = make([]Further, 9) },
		"stated.also[0].air 10 °C, stated.also[0]": func(p *Product) { p.Limits.AirMin = 15 },
	} {
		p := label(Waterborne, "acrylic", 2*time.Hour)
		p.Further = []Further{ok}
		change(&p)
		if _, err := p.Complete(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	cold := ok
	cold.Air = 7
	p := label(Waterborne, "acrylic", 2*time.Hour)
	p.Further = []Further{cold}
	if p, err := p.Complete(); err != nil || p.Limits.AirMin != 7 {
		t.Errorf("an assumed limit gives way to the label's own row: %v, %v", p.Limits, err)
	}
}
