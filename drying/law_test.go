package drying

import (
	"math"
	"testing"
	"time"

	"recoat/sensors"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.5g, want %.5g ± %.2g", what, got, want, within)
	}
}

// label is a product whose label gives only what every label must.
func label(f Family, kind string, recoat time.Duration) Product {
	p := Product{Name: "Quiet Harbour", Family: f, Kind: kind, Stated: Stated{Air: 23, Humidity: 50}}
	p.Stated.Times[DryToRecoat] = recoat
	return p
}

// everyKind is one label of each kind.
func everyKind() []Product {
	var all []Product
	for _, k := range kinds() {
		all = append(all, label(k.family, k.name, k.typical[DryToRecoat]))
	}
	return all
}

// room is air with a surface as warm as itself.
func room(at sensors.Celsius, h sensors.RelativeHumidity) Conditions {
	return Conditions{Air: at, Humidity: h, Surface: at, SurfaceMeasured: true}
}

// hours is the expected time of a stage, or NaN where it is blocked.
func hours(p Product, c Conditions, film Microns, s Stage) float64 {
	e := p.Expect(c, film)[s]
	if len(e.Blocked) > 0 {
		return math.NaN()
	}
	return e.Expected.Hours()
}

// The driving pressure of evaporation against that at 25 °C, 50 %, for a film
// at the air's temperature, with 0.3 of the wet-bulb depression, and at the wet
// bulb: worked out apart from this code from the Hyland-Wexler equation.
func TestDrivingPressureTable(t *testing.T) {
	shares := []float64{0, 0.3, 1}
	for _, c := range []struct {
		at, h  float64
		factor [3]float64
	}{
		{15, 50, [3]float64{1.86, 1.76, 1.34}}, {15, 70, [3]float64{3.10, 2.92, 2.31}},
		{20, 30, [3]float64{0.97, 0.95, 0.78}}, {20, 50, [3]float64{1.36, 1.32, 1.15}},
		{20, 60, [3]float64{1.69, 1.64, 1.47}}, {20, 70, [3]float64{2.26, 2.18, 2.00}},
		{20, 80, [3]float64{3.39, 3.26, 3.06}}, {25, 30, [3]float64{0.71, 0.72, 0.67}},
		{25, 70, [3]float64{1.67, 1.65, 1.76}}, {25, 80, [3]float64{2.50, 2.46, 2.71}},
		{25, 85, [3]float64{3.33, 3.28, 3.66}}, {30, 50, [3]float64{0.75, 0.77, 0.89}},
		{10, 50, [3]float64{2.58, 2.37, 1.60}}, {10, 80, [3]float64{6.45, 5.90, 4.17}},
	} {
		for i, wet := range shares {
			reference := newMoist(room(25, 50), wet)
			now := newMoist(room(sensors.Celsius(c.at), sensors.RelativeHumidity(c.h)), wet)
			near(t, "driving pressure", drivingPressure(&reference)/drivingPressure(&now), c.factor[i], 0.02)
		}
	}
	// A surface 3 K colder than air at 20 °C, 60 % doubles it.
	cold := room(20, 60)
	cold.Surface = 17
	reference, now := newMoist(room(25, 50), 0.3), newMoist(cold, 0.3)
	near(t, "cold surface", drivingPressure(&reference)/drivingPressure(&now), 3.31, 0.02)
}

// 2 h at 25 °C, 50 % become 0.7·2.18 + 0.3·1.265 = 1.905 times as long at
// 20 °C, 70 %: worked by hand from the table above and 1.6 for 10 K.
func TestWaterborneWorkedExample(t *testing.T) {
	p := label(Waterborne, "acrylic", 2*time.Hour)
	p.Stated.Air = 25
	near(t, "20 °C, 70 %", hours(p, room(20, 70), 0, DryToRecoat), 2*1.905, 0.02)
	// Where wood takes part of the water: 0.9·2.18^0.7 + 0.1·1.265 = 1.680.
	stain := label(Waterborne, "stain", 2*time.Hour)
	stain.Stated.Air = 25
	near(t, "stain", hours(stain, room(20, 70), 0, DryToRecoat), 2*1.680, 0.02)
}

// 8 h at 23 °C, 50 % (10.28 g/m³) become at 15 °C, 60 % (7.69 g/m³)
// (10.28/7.69)^0.7 · exp(40 kJ/mol / R · (1/288.15 K − 1/296.15 K)) = 1.923 times
// as long: worked by hand from the Hyland-Wexler equation.
func TestMoistureCuringWorkedExample(t *testing.T) {
	p := label(MoistureCuring, "urethane", 8*time.Hour)
	near(t, "15 °C, 60 %", hours(p, room(15, 60), 0, DryToRecoat), 8*1.923, 0.02)
}

// Damp air slows oxidation by half at 90 %, hence by a quarter at 80 %.
func TestOxidationInDampAir(t *testing.T) {
	p := label(Oxidising, "oil", 24*time.Hour)
	near(t, "80 %", hours(p, room(23, 80), 0, DryToRecoat), 30, 1e-6)
	near(t, "70 %", hours(p, room(23, 70), 0, DryToRecoat), 24, 1e-6)
}

// Arrhenius' law worked by hand: Q10 from 15 to 25 °C, and 24 h at 25 °C for
// 50 kJ/mol.
func TestArrhenius(t *testing.T) {
	for energy, want := range map[float64]float64{30: 1.52, 40: 1.75, 45: 1.88, 50: 2.01, 55: 2.16, 57.5: 2.24, 60: 2.32, 70: 2.67} {
		near(t, "Q10", arrhenius(1000*energy, 25)/arrhenius(1000*energy, 15), want, 0.006)
	}
	for at, want := range map[float64]float64{20: 33.9, 15: 48.3, 10: 69.9} {
		near(t, "24 h", 24*arrhenius(50e3, 25)/arrhenius(50e3, at), want, 0.06)
	}
}

// De Bortoli et al., Environmental Science & Technology 33 (1999) 1760: half as
// much again from 0.15 to 0.30 m/s. The exponent was fitted to that figure; the
// low estimate and the mean are worked by hand.
func TestAirSpeed(t *testing.T) {
	near(t, "0.15 to 0.30 m/s", airSpeedFactor(0.3)/airSpeedFactor(0.15), 1.29, 0.01)
	if airSpeedFactor(0) != 1 || airSpeedFactor(stillAir) != 1 || airSpeedFactor(10) != 2 {
		t.Error("still air has to count 1 and a gale 2")
	}
	for v := 0.0; v < 3; v += 0.01 {
		if airSpeedFactor(v+0.01) < airSpeedFactor(v) {
			t.Fatalf("more air dries slower at %.2f m/s", v)
		}
	}
}

func TestSolventPressures(t *testing.T) {
	const mmHg = 133.322 // Pa
	for at := 5.0; at <= 35; at += 5 {
		kelvin := at + 273.15
		// Landolt-Börnstein IV/20B (2000), ethanol, 269 to 341 K.
		landolt := math.Pow(10, 10.33675-1648.22/(kelvin-42.232))
		near(t, "ethanol", ethanol.pressure(at)*mmHg/landolt, 1, 0.02)
		// A published table of constants (scribd.com/document/468071058),
		// n-decane, in kPa and kelvins.
		table := 1000 * math.Exp(13.99-3452/(kelvin-78.90))
		near(t, "decane", decane.pressure(at)*mmHg/table, 1, 0.04)
	}
	// NIST Chemistry WebBook, butyl acetate: heat of vaporisation 43 ± 4
	// kJ/mol; a published list: 1.5 kPa between 20 and 25 °C.
	slope := math.Log(butylAcetate.pressure(26)/butylAcetate.pressure(24)) / (1/297.15 - 1/299.15)
	near(t, "butyl acetate, heat of vaporisation", gas*slope/1000, 43, 4)
	near(t, "butyl acetate", butylAcetate.pressure(25)*mmHg, 1500, 50)
	// Q10 worked out apart from this code: 1.83, 1.87.
	near(t, "ethanol Q10", ethanol.pressure(25)/ethanol.pressure(15), 1.83, 0.01)
	near(t, "butyl acetate Q10", butylAcetate.pressure(25)/butylAcetate.pressure(15), 1.87, 0.01)
}

// A varnish of one furniture handbook dries in 12 h at 77 °F and in up to 30 h
// below 70 °F: the model has to be slower when colder, and the interval of the
// family has to be wide enough to hold both figures.
func TestVarnishOfTheFurnitureHandbook(t *testing.T) {
	p := label(Oxidising, "alkyd", 12*time.Hour)
	p.Stated.Air = sensors.FromFahrenheit(77)
	e := p.Expect(room(sensors.FromFahrenheit(66), 50), 0)[DryToRecoat]
	if e.Expected <= 12*time.Hour || e.High < 30*time.Hour {
		t.Errorf("below 70 °F: %v, at most %v; want more than 12 h, and 30 h within reach", e.Expected, e.High)
	}
}
