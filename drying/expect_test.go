package drying

import (
	"math"
	"testing"
	"time"

	"recoat/sensors"
)

// At the label's own conditions every stage takes the label's own time.
func TestLabelIdentity(t *testing.T) {
	for _, p := range everyKind() {
		for _, own := range []Stated{{Air: 23, Humidity: 50}, {Air: 20, Humidity: 65}, {Air: 25, Humidity: 40}, {Air: 35, Humidity: 70}, {Air: 8, Humidity: 80}} {
			p := p
			p.Stated.Air, p.Stated.Humidity = own.Air, own.Humidity
			p.Stated.Film = 90
			for _, e := range p.Expect(p.Stated.conditions(), 90) {
				if len(e.Blocked) > 0 {
					t.Fatalf("%s %s, %s at its own %v °C, %v %%: blocked: %v", p.Family, p.Kind, e.Stage, own.Air, own.Humidity, e.Blocked)
				}
				near(t, p.Kind+" "+e.Stage.String(), float64(e.Expected)/float64(e.Stated), 1, 1e-9)
			}
		}
	}
}

// Solvent finishes hardly feel humidity until it turns them white.
func TestSolventIgnoresHumidity(t *testing.T) {
	for _, kind := range Kinds(Solvent) {
		p := label(Solvent, kind, 2*time.Hour)
		near(t, kind, hours(p, room(23, 65), 0, DryToRecoat), hours(p, room(23, 30), 0, DryToRecoat), 1e-9)
		if got := p.Judge(room(23, 65), Uncertainty{}).State; got != Unfit {
			t.Errorf("%s at 65 %%: got %v, want unfit: it may turn white", kind, got)
		}
		if got := p.Expect(room(23, 80), 0)[DryToRecoat]; len(got.Blocked) == 0 {
			t.Errorf("%s at 80 %%: the clock runs", kind)
		}
	}
}

// The whole span of inputs: never a time that is negative, endless or no
// number, and always either a time or a reason.
func TestExpectIsTotal(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), -1e300, -5, 0, 0.01, 11, 23, 50, 79, 100, 101}
	for _, p := range everyKind() {
		for _, at := range odd {
			for _, h := range odd {
				for _, surface := range odd {
					c := Conditions{Air: sensors.Celsius(at), Humidity: sensors.RelativeHumidity(h), Surface: sensors.Celsius(surface)}
					for _, e := range p.Expect(c, 0) {
						timed := e.Expected > 0 && e.Low > 0 && e.Low <= e.Expected && e.Expected <= e.High
						if timed == (len(e.Blocked) > 0) || !sensors.IsFinite(e.Pace) || e.Pace < 0 {
							t.Fatalf("%s in %+v: %+v", p.Kind, c, e)
						}
						for _, why := range e.Blocked {
							if !sensors.IsFinite(why.Value) || !sensors.IsFinite(why.Limit) || why.Text == "" || why.Code == "" {
								t.Fatalf("%s in %+v: reason %+v", p.Kind, c, why)
							}
						}
					}
				}
			}
		}
	}
}

func TestExpectRefusesFilmsAndProducts(t *testing.T) {
	p := label(Waterborne, "acrylic", time.Hour)
	for _, film := range []Microns{-1, maxFilm + 1, Microns(math.NaN())} {
		if e := p.Expect(room(23, 50), film)[DryToRecoat]; len(e.Blocked) == 0 || e.Blocked[0].Code != "product" {
			t.Errorf("a film of %v µm: got %+v, want a refusal", film, e)
		}
	}
	p.Family = "varnish"
	if e := p.Expect(room(23, 50), 0)[DryToRecoat]; len(e.Blocked) == 0 {
		t.Errorf("an unknown family: got %+v, want a refusal", e)
	}
}

// width of a stage's interval, as the logarithm of High over Low.
func logWidth(e Expectation) float64 { return math.Log(float64(e.High) / float64(e.Low)) }

func TestIntervalWidens(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	good := p.Expect(room(20, 50), 0)
	// ± 30 % (one standard deviation) is what is claimed near the label.
	near(t, "recoat", logWidth(good[DryToRecoat]), 2*1.2816*math.Log(1.3), 1e-3)
	// An assumed stage time is good to a factor of 1.5 or so.
	near(t, "sand", logWidth(good[Sandable]), 2*1.2816*math.Hypot(math.Log(1.3), 0.4), 1e-3)
	unmeasured := room(20, 50)
	unmeasured.SurfaceMeasured = false
	if logWidth(p.Expect(unmeasured, 0)[DryToRecoat]) <= logWidth(good[DryToRecoat]) {
		t.Error("a surface without a probe has to widen the interval")
	}
	near(t, "damp", logWidth(p.Expect(room(20, 76), 0)[DryToRecoat]), 2*1.2816*math.Log(2), 1e-3)
	if logWidth(p.Expect(room(20, 50), 80)[DryToRecoat]) <= logWidth(good[DryToRecoat]) {
		t.Error("a film scaled from an assumed one has to widen the interval")
	}
}

// Thickness: time grows between the film and its square for waterborne coats
// (1.3 to 1.7 times for 30 % more), and not at all for two-part ones.
func TestThickness(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	p.Stated.Film = 100
	if got := hours(p, room(23, 50), 130, DryToRecoat) / 2; got < 1.3 || got > 1.69 {
		t.Errorf("30 %% thicker takes %.2f times as long, want 1.3 to 1.69", got)
	}
	near(t, "very thin", hours(p, room(23, 50), 1, DryToRecoat), hours(p, room(23, 50), 25, DryToRecoat), 1e-9)
	shellac := label(Solvent, "shellac", 2*time.Hour)
	shellac.Stated.Film = 100
	near(t, "shellac", hours(shellac, room(23, 50), 130, DryToRecoat), 2*1.482, 0.001) // 1.3^1.5
	epoxy := label(TwoPart, "epoxy", 2*time.Hour)
	near(t, "epoxy", hours(epoxy, room(23, 50), 400, DryToRecoat), 2, 1e-9)
}

// A label that asks for no dew margin still needs a film that can give off its
// water.
func TestSaturatedFilm(t *testing.T) {
	p := label(Waterborne, "casein", time.Hour)
	p.Given = []string{"limits.dew_margin_min"}
	p.Limits.HumidityMax = 100
	for above, want := range map[sensors.Kelvins]bool{0.05: true, 1: false} {
		c := room(23, 100)
		c.Surface = c.Air.Add(above) // the wet bulb is at the air's temperature
		e := p.Expect(c, 0)[DryToRecoat]
		if got := len(e.Blocked) == 1 && e.Blocked[0].Code == "saturated"; got != want {
			t.Errorf("%v K above the dew point: got %+v, want it saturated: %v", above, e, want)
		}
	}
}

// Wood Handbook (FPL-GTR-190), chapter 16: latex paint from 10 °C, oil and
// alkyd from 4 °C (5 °C is assumed).
func TestAssumedTemperatures(t *testing.T) {
	if h := hours(label(Oxidising, "alkyd", 16*time.Hour), room(6, 50), 0, DryToRecoat); math.IsNaN(h) {
		t.Error("alkyd at 6 °C is blocked")
	}
	if h := hours(label(Oxidising, "alkyd", 16*time.Hour), room(4, 50), 0, DryToRecoat); !math.IsNaN(h) {
		t.Error("alkyd at 4 °C is not blocked")
	}
	if h := hours(label(Waterborne, "acrylic", 2*time.Hour), room(9.9, 50), 0, DryToRecoat); !math.IsNaN(h) {
		t.Error("acrylic at 9.9 °C is not blocked")
	}
}

func TestGatesStopTheClock(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	urethane := label(MoistureCuring, "urethane", 8*time.Hour)
	cold := room(23, 55)
	cold.Surface = 13.5
	for _, c := range []struct {
		code string
		p    Product
		in   Conditions
	}{
		{"air-cold", p, room(9, 50)}, {"air-hot", p, room(36, 30)}, {"humid", p, room(23, 86)},
		{"dew-margin", p, cold}, {"surface-humid", p, cold}, {"dry", urethane, room(23, 29)}, {"humid", urethane, room(23, 76)},
		{"film-cold", p, Conditions{Air: 12, Humidity: 20, Surface: 9.5, SurfaceMeasured: true}},
		{"surface-cold", p, Conditions{Air: 12, Humidity: 40, Surface: 9.5, SurfaceMeasured: true}},
		{"surface-hot", p, Conditions{Air: 30, Humidity: 40, Surface: 36, SurfaceMeasured: true}},
	} {
		e := c.p.Expect(c.in, 0)[DryToRecoat]
		found := false
		for _, r := range e.Blocked {
			found = found || r.Code == c.code
		}
		if !found || e.Pace != 0 || e.Expected != 0 {
			t.Errorf("%+v: got %+v, want it blocked by %s", c.in, e, c.code)
		}
	}
}
