package drying

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

// published is one figure from outside this project, beside what the model
// makes of it from the anchor that goes with the source.
type published struct {
	source, what     string
	published, model float64 // hours, or a ratio
	inView           bool    // a default was chosen with the figure in view
	misses           bool    // by more than a quarter
	bound            bool    // the figure is the most it may be, and not what it is
	low, high        float64 // the model's own interval, eight in ten; 0 where it has none
	edges            string  // how far off it is from edge to edge of the guide's columns
}

// residual is how far off the model is, in whole per cent.
func (p published) residual() float64 { return percent(p.model / p.published) }

func percent(ratio float64) float64 { return math.Round(100*(ratio-1)) + 0 } // no negative zero

func (p published) row() string {
	yesNo := map[bool]string{true: "yes", false: "no"}
	interval, edges := "none", cmp.Or(p.edges, "–")
	if p.high > 0 {
		interval = fmt.Sprintf("%.1f to %.1f: %s", p.low, p.high, map[bool]string{true: "holds", false: "does not hold"}[p.holds()])
	}
	return fmt.Sprintf("| %s | %s | %g | %.2f | %+.0f %% | %s | %s | %s | %s |",
		p.source, p.what, p.published, p.model, p.residual(), edges, interval, yesNo[p.inView], p.verdict())
}

func (p published) verdict() string {
	switch {
	case p.bound && !p.misses:
		return "keeps the bound"
	case p.bound:
		return "**breaks the bound**"
	case p.misses:
		return "**misses**"
	}
	return "within a quarter"
}

// missed reports whether the model is off by more than a quarter, or on the wrong
// side of a bound.
func (p published) missed() bool {
	if p.bound {
		return p.model > p.published
	}
	return math.Abs(p.residual()) > 25
}

func (p published) holds() bool { return p.low <= p.published && p.published <= p.high }

// recoats puts what the model makes of a product's recoat time into a row.
func (p published) recoats(of Product, c Conditions) published {
	e := of.Expect(c, 0)[DryToRecoat]
	p.model, p.low, p.high = e.Expected.Hours(), e.Low.Hours(), e.High.Hours()
	return p
}

// anchored is a two-part label that states one time at one temperature, with no
// limits in the way.
func anchored(kind string, at sensors.Celsius, hours float64) Product {
	p := label(TwoPart, kind, time.Duration(hours*float64(time.Hour)))
	p.Stated.Air = at
	p.Limits = Limits{AirMin: 1, AirMax: 55, HumidityMax: 100}
	p.Given = []string{"limits.dew_margin_min"}
	return p
}

// column is one of the guide's, °F: the warmest surface between two coats.
type column struct{ cold, warm sensors.Celsius }

func fahrenheit(cold, warm float64) column {
	return column{sensors.FromFahrenheit(cold), sensors.FromFahrenheit(warm)}
}

func (c column) middle() sensors.Celsius {
	return sensors.Celsius(math.Round(10*float64(c.cold+c.warm)/2) / 10)
}

// recoatWindows are those of UFGS 09971 at the middles of its columns: of
// polyurethane over polyurethane, and the row "tack coat recoat window" of a
// table whose head could not be read, taken to be of epoxy. What a column says
// has to hold all through it: the earliest time where it is coldest, the latest
// where it is warmest. So each is also carried from that edge of the anchor's
// column to the same edge of its own.
func recoatWindows() (all []published) {
	const source = "UFGS 09971"
	from := fahrenheit(60, 70)
	to := [3]column{fahrenheit(81, 90), fahrenheit(101, 110), fahrenheit(111, 120)}
	for _, c := range []struct {
		kind, what string
		latest     bool
		anchor     float64 // hours in the first column
		inView     bool
		hours      [3]float64
		miss       [3]bool
	}{
		{"polyurethane", "polyurethane, earliest recoat", false, 8, true, [3]float64{4, 2, 1}, [3]bool{}},
		{"polyurethane", "polyurethane, latest recoat", true, 48, true, [3]float64{36, 12, 2}, [3]bool{true, false, true}},
		{"epoxy", "tack coat, earliest recoat", false, 24, false, [3]float64{16, 10, 8}, [3]bool{true, true, true}},
		{"epoxy", "tack coat, latest recoat", true, 96, false, [3]float64{48, 24, 16}, [3]bool{false, true, false}},
	} {
		for i, at := range to {
			start, end := from.cold, at.cold
			if c.latest {
				start, end = from.warm, at.warm
			}
			edge := published{}.recoats(anchored(c.kind, start, c.anchor), room(end, 30))
			all = append(all, published{
				source: source, what: fmt.Sprintf("%s at %v °C (%v h at %v °C), h", c.what, at.middle(), c.anchor, from.middle()),
				published: c.hours[i], inView: c.inView, misses: c.miss[i],
				edges: fmt.Sprintf("%+.0f %%", percent(edge.model/c.hours[i])),
			}.recoats(anchored(c.kind, from.middle(), c.anchor), room(at.middle(), 30)))
		}
	}
	return all
}

// potLife is the rule of UFGS 09970 and 09971: half for 10 K more, twice for 10
// K less than 21 °C.
func potLife() (all []published) {
	for _, c := range []struct {
		kind  string
		hours float64
	}{{"epoxy", 4}, {"polyurethane", 2}} {
		for _, to := range []struct {
			at    sensors.Celsius
			times float64
		}{{31, 0.5}, {11, 2}} {
			all = append(all, published{
				source: "UFGS 09970, 09971", what: fmt.Sprintf("%s, pot life at %v °C (%v h at 21 °C), h", c.kind, to.at, c.hours),
				published: c.hours * to.times, inView: c.kind == "polyurethane",
			}.recoats(anchored(c.kind, 21, c.hours), room(to.at, 30)))
		}
	}
	return all
}

func everyPublished() []published {
	nchrp, varnish := anchored("epoxy", 24, 3), label(Oxidising, "alkyd", 12*time.Hour)
	varnish.Stated.Air = sensors.FromFahrenheit(77)
	const overlay = "NCHRP Synthesis 423, table 2"
	return append(append(recoatWindows(), potLife()...),
		published{source: overlay, what: "epoxy overlay, strength at 16 °C (3 h at 24 °C), h", published: 7}.recoats(nchrp, room(16, 30)),
		published{source: overlay, what: "epoxy overlay, strength at 32 °C (3 h at 24 °C), h", published: 2}.recoats(nchrp, room(32, 30)),
		published{
			source: "De Bortoli et al. 1999", what: "evaporation at 0.30 m/s against 0.15 m/s, ratio",
			published: 1.5, model: airSpeedFactor(0.3) / airSpeedFactor(0.15), inView: true,
		},
		published{
			source: "furniture handbook", what: "varnish below 70 °F, at 66 °F (12 h at 77 °F), at most, h", published: 30, bound: true,
		}.recoats(varnish, room(sensors.FromFahrenheit(66), 50)),
	)
}

// Prints the comparison, and holds each row to what MODEL.md says of it. A row
// that is said to miss has to miss: the table is not to flatter by rot either.
func TestPublished(t *testing.T) {
	page, err := os.ReadFile("MODEL.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range everyPublished() {
		t.Log(p.row())
		if p.missed() != p.misses {
			t.Errorf("%s, %s: off by %.0f %%, said to miss: %v", p.source, p.what, p.residual(), p.misses)
		}
		if !strings.Contains(string(page), p.row()) {
			t.Errorf("MODEL.md does not hold this row:\n%s", p.row())
		}
	}
}

// The energy of two-part polyurethane is the least-squares fit, in the logarithm
// of time, to the guides' earliest recoat times and pot lives. The fit to any
// four of the five foretells the other within a quarter, but for the hottest
// column, which is met because it was fitted: MODEL.md owns up to that.
func TestPolyurethaneEnergy(t *testing.T) {
	figures := []struct {
		from, to sensors.Celsius
		slower   float64 // time at from over time at to
	}{{18.3, 29.7, 8. / 4}, {18.3, 40.8, 8. / 2}, {18.3, 46.4, 8. / 1}, {21, 31, 2}, {21, 11, 0.5}}
	const hottest = 2
	across := func(i int) float64 {
		kelvin := func(c sensors.Celsius) float64 { return float64(c) + 273.15 }
		return (1/kelvin(figures[i].from) - 1/kelvin(figures[i].to)) / gas
	}
	fit := func(without int) float64 {
		var xy, xx float64
		for i, f := range figures {
			if x := across(i); i != without {
				xy += x * math.Log(f.slower)
				xx += x * x
			}
		}
		return xy / xx
	}
	if got := fit(-1); math.Abs(got-polyurethaneEnergy) > 500 {
		t.Errorf("the fit is %.0f J/mol, %.0f is used", got, polyurethaneEnergy)
	}
	for i, f := range figures {
		energy := fit(i)
		off := percent(f.slower / math.Exp(energy*across(i)))
		t.Logf("from %v to %v °C: %.1f kJ/mol by the others, off by %+.0f %%", f.from, f.to, energy/1e3, off)
		if missed := math.Abs(off) > 25; missed != (i == hottest) {
			t.Errorf("from %v to %v °C the others are off by %.0f %%", f.from, f.to, off)
		}
	}
}
