package air_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"recoat/drying/air"
	"recoat/sensors"
)

type (
	celsius = sensors.Celsius
	rh      = sensors.RelativeHumidity
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, within)
	}
}

// Handbook of Chemistry and Physics, 1992-93 edition, vapour pressure of water,
// kPa. Its values are up to 0.04 % below the later IAPWS ones.
var handbook = map[celsius]float64{
	0: 0.61129, 1: 0.65716, 2: 0.70605, 3: 0.75813, 5: 0.8726, 6: 0.93537, 8: 1.073, 10: 1.2281,
	11: 1.3129, 13: 1.4979, 15: 1.7056, 16: 1.8185, 18: 2.0644, 19: 2.1978, 20: 2.3388, 21: 2.4877,
	23: 2.8104, 24: 2.985, 25: 3.169, 26: 3.3629, 27: 3.567, 29: 4.0078, 30: 4.2455, 31: 4.4953,
	32: 4.7578, 34: 5.3229, 35: 5.6267, 40: 7.3814,
}

func TestSaturationPressureHandbook(t *testing.T) {
	for at, kPa := range handbook {
		near(t, "handbook", float64(air.SaturationPressure(at)), 1000*kPa, kPa) // 0.1 %
	}
}

// The IAPWS equation of Wagner and Pruss (1993), an independent formula with
// coefficients of its own, from 0.01 °C up.
func TestSaturationPressureIAPWS(t *testing.T) {
	a := [...]float64{-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502}
	power := [...]float64{1, 1.5, 3, 3.5, 4, 7.5}
	for at := celsius(0.01); at < 80; at += 0.7 {
		tau := 1 - at.Absolute()/647.096
		sum := 0.0
		for i := range a {
			sum += a[i] * math.Pow(tau, power[i])
		}
		want := 22.064e6 * math.Exp(647.096/at.Absolute()*sum)
		near(t, "IAPWS", float64(air.SaturationPressure(at))/want, 1, 1.5e-4)
	}
}

func TestSaturationPressureElsewhere(t *testing.T) {
	// ASHRAE Fundamentals 2017, chapter 1, table 3.
	near(t, "ASHRAE 5 °C", float64(air.SaturationPressure(5)), 872.6, 0.3)
	near(t, "ASHRAE 25 °C", float64(air.SaturationPressure(25)), 3169.7, 1)
	// FAO Irrigation and Drainage Paper 56, example 3: 1.705 kPa at 15 °C.
	near(t, "FAO 56", float64(air.SaturationPressure(15)), 1705, 1)
}

// A published table with one decimal (halesowenweather.co.uk, dew_point1),
// partly cut instead of rounded, hence ± 0.1 °C.
func TestDewPointTable(t *testing.T) {
	for _, c := range []struct {
		at  celsius
		dew map[rh]float64
	}{
		{25, map[rh]float64{30: 6.2, 40: 10.4, 50: 13.8, 60: 16.7, 70: 19.1, 80: 21.3, 90: 23.2}},
		{20, map[rh]float64{30: 1.9, 40: 6.0, 50: 9.3, 60: 12.0, 70: 14.4, 80: 16.4, 90: 18.3}},
		{10, map[rh]float64{50: 0.1, 60: 2.6, 70: 4.8, 80: 6.7, 90: 8.4}},
		{5, map[rh]float64{50: -4.6, 60: -2.1, 70: 0, 80: 1.8, 90: 3.5}},
	} {
		for h, want := range c.dew {
			near(t, "table", float64(air.DewPoint(c.at, h)), want, 0.1)
		}
	}
}

// Triples on which the IAPWS and the Hyland-Wexler equations agree within
// 0.01 °C.
func TestDewPointReference(t *testing.T) {
	for _, c := range []struct {
		at   celsius
		h    rh
		want float64
	}{
		{18, 55, 8.84}, {18, 40, 4.21}, {21, 47, 9.27}, {23, 50, 12.03}, {23, 65, 16.07}, {27, 36, 10.67}, {28, 45, 14.97},
		{22, 80, 18.39}, {12, 85, 9.56}, {30, 55, 19.98}, {30, 60, 21.39}, {35, 30, 14.85}, {20, 65, 13.23}, {15, 85, 12.50},
	} {
		near(t, "reference", float64(air.DewPoint(c.at, c.h)), c.want, 0.02)
	}
	// The rule of thumb of Lawrence, Bulletin of the American Meteorological
	// Society 86 (2005) 225, good to a kelvin or so above 50 %.
	for h := rh(55); h <= 100; h += 5 {
		near(t, "rule of thumb", float64(air.DewPoint(20, h)), 20-(100-float64(h))/5, 1)
	}
}

func TestDewPointIsTheInverse(t *testing.T) {
	for at := celsius(-100); at < 100; at += 0.5 {
		near(t, "inverse", float64(air.DewPointOf(air.SaturationPressure(at))), float64(at), 1e-8)
	}
	for _, e := range []sensors.Pascals{0, -1, sensors.Pascals(math.NaN()), sensors.Pascals(math.Inf(1))} {
		if got := air.DewPointOf(e); !math.IsNaN(float64(got)) {
			t.Errorf("dew point of %v Pa: got %v, want none", e, got)
		}
	}
	if got := air.DewPoint(20, 0); !math.IsNaN(float64(got)) {
		t.Errorf("dew point at 0 %%: got %v, want none", got)
	}
}

func TestDewPointRisesWithBoth(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		at, h := celsius(random.Float64()*60-20), rh(0.5+random.Float64()*98)
		dew, wet := air.DewPoint(at, h), air.WetBulb(at, h, 0)
		if !(dew <= wet && wet <= at) {
			t.Fatalf("at %v °C, %v %%: dew point %v, wet bulb %v", at, h, dew, wet)
		}
		if air.DewPoint(at+0.1, h) <= dew || air.DewPoint(at, h+0.1) <= dew {
			t.Fatalf("at %v °C, %v %%: the dew point falls", at, h)
		}
		if air.WetBulb(at+0.1, h, 0) <= wet || air.WetBulb(at, h+0.1, 0) <= wet {
			t.Fatalf("at %v °C, %v %%: the wet bulb falls", at, h)
		}
	}
	for at := celsius(-20); at <= 60; at += 5 {
		near(t, "dew point of saturated air", float64(air.DewPoint(at, 100)), float64(at), 1e-9)
		near(t, "wet bulb of saturated air", float64(air.WetBulb(at, 100, 0)), float64(at), 1e-6)
	}
}
