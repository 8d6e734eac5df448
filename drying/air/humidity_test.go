package air_test

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"recoat/drying/air"
	"recoat/sensors"
)

// Wet bulbs of the public psychrolib 1.1.1 (npm; ASHRAE Fundamentals 2017) at
// 101 325 Pa.
func TestWetBulb(t *testing.T) {
	for _, c := range []struct {
		at   celsius
		h    rh
		want float64
	}{{20, 50, 13.78}, {23, 50, 16.25}, {25, 50, 17.89}, {30, 50, 22.01}, {10, 70, 7.40}, {15, 80, 12.98}} {
		near(t, "psychrolib", float64(air.WetBulb(c.at, c.h, sensors.StandardPressure)), c.want, 0.02)
	}
	// R. Stull, Journal of Applied Meteorology and Climatology 50 (2011) 2267:
	// 13.7 °C at 20 °C, 50 %, by a fit that is good to 0.3 K in the mean.
	near(t, "Stull", float64(air.WetBulb(20, 50, 0)), 13.7, 0.3)
	// The aspirated psychrometer, e = es(tw) - 0.000662·p·(t - tw), as in
	// WMO-No. 8 and FAO 56.
	for _, h := range []rh{20, 50, 80} {
		tw := air.WetBulb(25, h, 0)
		e := air.SaturationPressure(tw) - sensors.Pascals(0.000662*101325*float64(25-tw))
		near(t, "psychrometer", float64(air.HumidityAtSurface(e, 25)), float64(h), 1)
	}
	if got := air.WetBulb(20, 101, 0); !math.IsNaN(float64(got)) {
		t.Errorf("wet bulb at 101 %%: got %v, want none", got)
	}
}

// A published table with one decimal (scribd.com/doc/39380596), g/m³.
func TestAbsoluteHumidity(t *testing.T) {
	for _, c := range []struct {
		at   celsius
		h    rh
		want float64
	}{{20, 50, 8.7}, {20, 100, 17.3}, {25, 50, 11.5}, {25, 100, 23.0}, {30, 100, 30.4}, {10, 50, 4.7}, {10, 100, 9.4}} {
		near(t, "table", air.AbsoluteHumidity(c.at, c.h), c.want, 0.06)
	}
}

func TestConversionsAreInverse(t *testing.T) {
	for at := celsius(-10); at <= 45; at += 5 {
		for h := rh(5); h <= 100; h += 5 {
			near(t, "absolute", float64(air.HumidityFromAbsolute(at, air.AbsoluteHumidity(at, h))), float64(h), 1e-9)
			near(t, "ratio", float64(air.HumidityFromRatio(at, air.HumidityRatio(at, h, 95000), 95000)), float64(h), 1e-9)
			near(t, "dew point", float64(air.HumidityFromDewPoint(at, air.DewPoint(at, h))), float64(h), 1e-7)
		}
	}
	// The ratio of the molar masses of water (18.0153 g/mol) and dry air (28.966
	// g/mol, ASHRAE Fundamentals 2017, chapter 1).
	e := float64(air.VapourPressure(20, 50))
	near(t, "molar masses", air.HumidityRatio(20, 50, 101325)*(101325-e)/e, 18.0153/28.966, 1e-5)
	if got := air.HumidityRatio(99, 100, 90000); !math.IsNaN(got) {
		t.Errorf("humidity ratio of boiling water: got %v, want none", got)
	}
}

// A surface 3 K above the dew point is at 81.6 to 83.5 %: worked out from the
// IAPWS equation, and the reason why "3 °C" and "85 %" are nearly one rule.
func TestHumidityAtSurface(t *testing.T) {
	for surface, want := range map[celsius]float64{10: 81.6, 15: 82.2, 20: 82.9, 25: 83.5} {
		e := air.SaturationPressure(surface - 3)
		near(t, "3 K above", float64(air.HumidityAtSurface(e, surface)), want, 0.1)
	}
	if got := air.HumidityAtSurface(air.VapourPressure(20, 60), 10); got <= 100 {
		t.Errorf("at a surface below the dew point: got %v %%, want above 100 %%", got)
	}
}

// JCGM 100:2008, equation 10, over the analytic slopes; the same by finite
// differences of the dew point, and worked values for 0.3 °C and 2 or 3 %.
func TestDewPointUncertainty(t *testing.T) {
	for _, c := range []struct {
		at                                celsius
		h                                 rh
		perKelvin, perPercent, two, three float64
	}{
		{20, 30, 0.87, 0.466, 0.97, 1.42}, {20, 50, 0.92, 0.297, 0.65, 0.93}, {20, 70, 0.96, 0.221, 0.53, 0.72},
		{20, 85, 0.98, 0.186, 0.47, 0.63}, {25, 50, 0.92, 0.308, 0.67, 0.96}, {10, 70, 0.96, 0.204, 0.50, 0.68},
	} {
		k, p := air.DewPointSensitivity(c.at, c.h)
		near(t, "per kelvin", k, c.perKelvin, 0.01)
		near(t, "per cent", p, c.perPercent, 0.001)
		near(t, "per kelvin, by difference", k, float64(air.DewPoint(c.at+0.01, c.h)-air.DewPoint(c.at-0.01, c.h))/0.02, 1e-5)
		near(t, "per cent, by difference", p, float64(air.DewPoint(c.at, c.h+0.01)-air.DewPoint(c.at, c.h-0.01))/0.02, 1e-5)
		near(t, "sigma, 2 %", float64(air.DewPointSigma(c.at, c.h, 0.3, 2)), c.two, 0.01)
		near(t, "sigma, 3 %", float64(air.DewPointSigma(c.at, c.h, 0.3, 3)), c.three, 0.01)
	}
}

func TestAt(t *testing.T) {
	s, err := air.At(20, 60, 0)
	if err != nil {
		t.Fatal(err)
	}
	if s.Pressure != sensors.StandardPressure {
		t.Errorf("pressure: got %v, want the standard atmosphere", s.Pressure)
	}
	near(t, "dew margin", float64(s.DewMargin(14)), 14-12.01, 0.01)
	near(t, "at the surface", float64(s.AtSurface(20)), 60, 1e-9)
	near(t, "wood", s.WoodEMC, 11.00, 0.01)
}

func TestAtRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		at   float64
		h    float64
		p    float64
		says string
	}{
		{20, -1, 0, "relative humidity"}, {20, 100.1, 0, "relative humidity"}, {20, nan, 0, "relative humidity"},
		{-51, 50, 0, "air temperature"}, {85, 50, 0, "air temperature"}, {nan, 50, 0, "air temperature"}, {inf, 50, 0, "air temperature"},
		{20, 50, 1013, "air pressure"}, {20, 50, -5, "air pressure"}, {20, 50, nan, "air pressure"},
	} {
		_, err := air.At(celsius(c.at), rh(c.h), sensors.Pascals(c.p))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v °C, %v %%, %v Pa: got %v, want an error about the %s", c.at, c.h, c.p, err, c.says)
		}
	}
	if _, err := air.At(20, 0, 0); !errors.Is(err, air.ErrNoDewPoint) {
		t.Errorf("0 %%: got %v, want ErrNoDewPoint", err)
	}
}

func TestAtIsFiniteOverItsSpan(t *testing.T) {
	for at := air.MinAir; at <= air.MaxAir; at += 2 {
		for _, h := range []rh{0.01, 1, 20, 50, 80, 99, 100} {
			for _, p := range []sensors.Pascals{air.MinPressure, sensors.StandardPressure, air.MaxPressure} {
				s, err := air.At(at, h, p)
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range []float64{float64(s.DewPoint), float64(s.WetBulb), s.AbsoluteHumidity, s.HumidityRatio, s.WoodEMC} {
					if !sensors.IsFinite(v) {
						t.Fatalf("at %v °C, %v %%, %v Pa: %+v", at, h, p, s)
					}
				}
			}
		}
	}
}

// The recorded room of Candanedo and Feldheim, Energy and Buildings 112 (2016)
// 28: their own humidity ratio, derived from temperature and humidity.
func TestHumidityRatioOfARecordedRoom(t *testing.T) {
	f, err := os.Open("../../../shared/data/rooms/office-2015-02.csv")
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("the recorded room is not beside this checkout")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 20000 {
		t.Fatalf("%d rows: the record has over 20000", len(rows))
	}
	worst := 0.0
	for _, row := range rows[1:] {
		v := numbers(t, row[1], row[2], row[4])
		got := air.HumidityRatio(celsius(v[0]), rh(v[1]), sensors.StandardPressure)
		worst = math.Max(worst, math.Abs(got/v[2]-1))
	}
	if worst > 0.001 {
		t.Errorf("humidity ratio is off by up to %.2g %%, want 0.1 %%", 100*worst)
	}
}

func numbers(t *testing.T, fields ...string) []float64 {
	t.Helper()
	out := make([]float64, len(fields))
	for i, s := range fields {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}
