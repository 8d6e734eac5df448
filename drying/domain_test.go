package drying

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"recoat/sensors"
)

// anywhere is a random room from the whole span in which any label lets a coat
// dry, and somewhat beyond.
func anywhere(r *rand.Rand) Conditions {
	c := Conditions{
		Air: sensors.Celsius(2 + 40*r.Float64()), Humidity: sensors.RelativeHumidity(2 + 96*r.Float64()),
		SurfaceMeasured: r.IntN(2) == 0, AirSpeed: sensors.MetresPerSecond(3 * r.Float64()),
		Pressure: sensors.Pascals(75000 + 30000*r.Float64()),
	}
	c.Surface = c.Air.Add(sensors.Kelvins(3 - 8*r.Float64()))
	return c
}

// anyLabel is a label of the kind with limits as wide as they may be, so that
// the law itself is seen in as much of the span as there is.
func anyLabel(k kind, r *rand.Rand) Product {
	p := label(k.family, k.name, scale(k.typical[DryToRecoat], 0.3+3*r.Float64()))
	p.Stated.Air, p.Stated.Humidity = sensors.Celsius(15+15*r.Float64()), sensors.RelativeHumidity(30+40*r.Float64())
	p.Limits = Limits{AirMin: 1, AirMax: 45, HumidityMin: 1, HumidityMax: 99}
	p.Given = []string{"limits.dew_margin_min", "limits.air_dew_min"}
	return p
}

// Over the whole span: colder is never faster, damper never faster for
// waterborne and oxidising finishes, drier never for moisture-curing ones,
// thicker never, and moving air never slower; a pace is finite and not negative.
func TestLawsOverTheWholeSpan(t *testing.T) {
	r := rand.New(rand.NewPCG(1640, 9117))
	compared := 0
	for _, k := range kinds() {
		for range 400 {
			p, c, film := anyLabel(k, r), anywhere(r), Microns(10+300*r.Float64())
			base := paces(t, p, c, film)
			notFaster := func(what string, other Conditions, film Microns) {
				for s, pace := range paces(t, p, other, film) {
					if base[s] > 0 && pace > base[s]*(1+1e-9) {
						t.Errorf("%s %s: %s has pace %.6f, more than %.6f in %+v", k.name, Stage(s), what, pace, base[s], c)
					}
					if base[s] > 0 && pace > 0 {
						compared++
					}
				}
			}
			by := 4 * r.Float64()
			other := c
			other.Surface -= sensors.Celsius(by)
			notFaster("a colder surface", other, film)
			other.Air -= sensors.Celsius(by)
			notFaster("a colder room", other, film)
			notFaster("a thicker film", c, film*Microns(1+r.Float64()))
			other = c
			switch k.family {
			case Waterborne, Oxidising:
				other.Humidity = min(c.Humidity+sensors.RelativeHumidity(5*by), 100)
				notFaster("damper air", other, film)
			case MoistureCuring:
				other.Humidity = max(c.Humidity-sensors.RelativeHumidity(5*by), 0.1)
				notFaster("drier air", other, film)
			}
			other = c
			other.AirSpeed *= sensors.MetresPerSecond(r.Float64())
			notFaster("stiller air", other, film)
		}
	}
	if compared < 50000 {
		t.Errorf("only %d pairs were compared: the span is nearly all blocked", compared)
	}
}

func paces(t *testing.T, p Product, c Conditions, film Microns) (all [StageCount]float64) {
	t.Helper()
	for i, e := range p.Expect(c, film) {
		if !sensors.IsFinite(e.Pace) || e.Pace < 0 {
			t.Fatalf("%s %s: pace %v in %+v", p.Kind, e.Stage, e.Pace, c)
		}
		all[i] = e.Pace
	}
	return all
}

// At its own conditions and film any label gives its own times back.
func TestLabelIdentityOverTheWholeSpan(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 50))
	for _, k := range kinds() {
		for range 100 {
			p := anyLabel(k, r)
			p.Stated.Film = Microns(20 + 200*r.Float64())
			p.Stated.Times[Handle] = p.Stated.Times[DryToRecoat] + time.Hour
			own := p.Stated.conditions()
			for _, e := range p.Expect(own, p.Stated.Film) {
				near(t, k.name+" "+e.Stage.String(), e.Pace, 1, 1e-9)
				if math.Abs(float64(e.Expected-e.Stated)) > 1 { // ns
					t.Errorf("%s %s: %v, stated as %v", k.name, e.Stage, e.Expected, e.Stated)
				}
			}
			coat := Coat{Product: p, Applied: noon, Film: p.Stated.Film}
			for _, e := range Follow(coat, steady(own, noon, time.Hour), noon.Add(time.Hour), nil) {
				near(t, "gained", e.Gained*e.Stated.Hours(), 1, 1e-9)
			}
		}
	}
}
