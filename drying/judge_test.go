package drying

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

func codes(v Verdict) string {
	var all []string
	for _, r := range v.Reasons {
		all = append(all, r.Code)
	}
	return strings.Join(all, " ")
}

func TestJudge(t *testing.T) {
	paint, lacquer := label(Waterborne, "acrylic", 2*time.Hour), label(Solvent, "lacquer", time.Hour)
	urethane := label(MoistureCuring, "urethane", 8*time.Hour)
	on := func(air sensors.Celsius, h sensors.RelativeHumidity, surface sensors.Celsius) Conditions {
		return Conditions{Air: air, Humidity: h, Surface: surface, SurfaceMeasured: true}
	}
	for _, c := range []struct {
		name  string
		p     Product
		in    Conditions
		want  State
		first string
	}{
		{"a good room", paint, room(21, 50), Fit, "air-cold"},
		{"just warm enough", paint, room(11, 50), Caution, "air-cold"},
		{"too cold", paint, room(9, 50), Unfit, "air-cold"},
		{"too hot", paint, room(36, 40), Unfit, "air-hot"},
		{"nearly too damp", paint, room(22, 81), Caution, "dew-margin"},
		{"too damp", paint, room(22, 90), Unfit, "dew-margin"},
		{"a cold piece", paint, on(20, 60, 14), Unfit, "dew-margin"},
		{"a cool piece", paint, on(20, 60, 16), Caution, "dew-margin"},
		{"air that whitens lacquer", lacquer, room(22, 60), Unfit, "blush"},
		{"air that may whiten lacquer", lacquer, room(22, 50), Caution, "blush"},
		{"dry air for lacquer", lacquer, room(22, 35), Fit, "air-cold"},
		{"too dry to cure", urethane, room(22, 25), Unfit, "dry"},
		{"nearly too dry to cure", urethane, room(22, 33), Caution, "dry"},
	} {
		v := c.p.Judge(c.in, Uncertainty{})
		if v.State != c.want || len(v.Reasons) == 0 || v.Reasons[0].Code != c.first {
			t.Errorf("%s: got %s for %s, want %s for %s first", c.name, v.State, codes(v), c.want, c.first)
		}
	}
}

// The dew margin is held against its limit with its own uncertainty: the same
// margin is fit with good sensors and doubtful with poor ones, and without a
// probe it has to be wider.
func TestJudgeAllowsForUncertainty(t *testing.T) {
	c := room(20, 72) // margin 5.2 K
	c.AirSpeed = 0.1
	for _, x := range []struct {
		u    Uncertainty
		want State
	}{
		{Uncertainty{Air: 0.1, Surface: 0.1, Humidity: 1}, Fit},
		{Uncertainty{}, Fit},
		{Uncertainty{Air: 0.5, Surface: 0.5, Humidity: 4}, Caution},
	} {
		if got := JudgeRoom(c, x.u, DefaultLimits()); got.State != x.want {
			t.Errorf("%+v: got %s for %s, want %s", x.u, got.State, codes(got), x.want)
		}
	}
	c.SurfaceMeasured = false
	if got := JudgeRoom(c, Uncertainty{}, DefaultLimits()); got.State != Caution {
		t.Errorf("without a probe: got %s, want caution", got.State)
	}
	for _, r := range JudgeRoom(c, Uncertainty{}, DefaultLimits()).Reasons {
		if !strings.Contains(r.Text, "±") {
			t.Errorf("%q does not say how good the value is", r.Text)
		}
	}
}

// The uncertainty of the margin, with 0.5 K on the surface: worked by hand from
// the table of dew-point uncertainties for 0.3 °C and 2 %.
func TestDewMarginSigma(t *testing.T) {
	for _, c := range []struct {
		at   sensors.Celsius
		h    sensors.RelativeHumidity
		want float64
	}{{20, 30, 1.09}, {20, 50, 0.82}, {20, 70, 0.73}, {20, 85, 0.69}, {25, 50, 0.84}, {10, 70, 0.71}} {
		_, sigma := room(c.at, c.h).DewMargin(Uncertainty{Air: 0.3, Surface: 0.5, Humidity: 2})
		near(t, "sigma", float64(sigma), c.want, 0.01)
	}
	margin, _ := room(20, 60).DewMargin(Uncertainty{})
	near(t, "margin", float64(margin), 20-12.01, 0.01)
	if margin, sigma := (Conditions{Humidity: 500}).DewMargin(Uncertainty{}); !math.IsNaN(float64(margin)) || !math.IsNaN(float64(sigma)) {
		t.Errorf("of nonsense: got %v ± %v, want none", margin, sigma)
	}
}

func TestNothingUnknownIsFit(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []Conditions{
		{}, {Air: 20, Humidity: 0, Surface: 20}, {Air: sensors.Celsius(nan), Humidity: 50, Surface: 20},
		{Air: 20, Humidity: sensors.RelativeHumidity(nan), Surface: 20}, {Air: 20, Humidity: 50, Surface: sensors.Celsius(inf)},
		{Air: 20, Humidity: 50, Surface: 20, Pressure: sensors.Pascals(nan)}, {Air: 20, Humidity: 50, Surface: 20, AirSpeed: sensors.MetresPerSecond(nan)},
	} {
		for _, v := range []Verdict{p.Judge(c, Uncertainty{}), JudgeRoom(c, Uncertainty{}, DefaultLimits())} {
			if v.State != Unknown || len(v.Reasons) != 1 {
				t.Errorf("%+v: got %s for %s, want unknown and why", c, v.State, codes(v))
			}
			if _, err := json.Marshal(v); err != nil {
				t.Errorf("%+v: %v", c, err)
			}
		}
	}
	if v := (Product{}).Judge(room(20, 50), Uncertainty{}); v.State != Unknown || codes(v) != "product" {
		t.Errorf("no product: got %s for %s", v.State, codes(v))
	}
	if v := JudgeRoom(room(20, 50), Uncertainty{}, Limits{}); v.State != Unknown || codes(v) != "limits" {
		t.Errorf("no limits: got %s for %s", v.State, codes(v))
	}
	bad := Uncertainty{Air: sensors.Kelvins(nan), Surface: -1, Humidity: sensors.RelativeHumidity(nan)}
	if v := JudgeRoom(room(20, 50), bad, DefaultLimits()); v.State != Fit {
		t.Errorf("uncertainties that are none: got %s, want the typical ones taken", v.State)
	}
}

// The clock stops exactly where a limit that stops it makes the room unfit.
func TestVerdictAndClockAgree(t *testing.T) {
	for _, p := range everyKind() {
		for at := sensors.Celsius(4); at < 40; at += 3 {
			for h := sensors.RelativeHumidity(10); h <= 100; h += 5 {
				for _, below := range []sensors.Kelvins{0, 2, 5} {
					c := room(at, h)
					c.Surface = at.Add(-below)
					v, blocked := p.Judge(c, Uncertainty{}), p.Expect(c, 0)[DryToRecoat].Blocked
					stopped := v.State == Unfit && codes(v) != "blush" && v.Reasons[0].Code != "blush"
					if v.State != Unfit && len(blocked) > 0 || stopped && len(blocked) == 0 {
						t.Fatalf("%s in %+v: %s for %s, yet blocked by %v", p.Kind, c, v.State, codes(v), blocked)
					}
				}
			}
		}
	}
}

func TestReasonsSpeak(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	v := p.Judge(room(8.2, 50), Uncertainty{})
	want := "The air is 8.2 °C ± 0.6; at least 10.0 °C is needed (assumed: the label does not say)"
	if v.Reasons[0].Text != want {
		t.Errorf("got %q, want %q", v.Reasons[0].Text, want)
	}
	p.Limits.AirMin = 10
	v = p.Judge(room(8.2, 50), Uncertainty{})
	if strings.Contains(v.Reasons[0].Text, "assumed") {
		t.Errorf("%q: the label does say", v.Reasons[0].Text)
	}
	if r := v.Reasons[0]; r.Value != 8.2 || r.Limit != 10 || r.Unit != "Cel" {
		t.Errorf("got %+v", r)
	}
}
