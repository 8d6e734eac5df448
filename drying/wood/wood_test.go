package wood_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.5g, want %.5g ± %.2g", what, got, want, within)
	}
}

// Wood Handbook (Forest Products Laboratory), table 4-2, as reprinted in the
// lumber trade: printed to one decimal from 40 to 100 °F. NaN where a cell was
// not at hand.
func TestEMCTable(t *testing.T) {
	fahrenheit := []float64{40, 50, 60, 70, 80, 90, 100}
	for h, row := range map[sensors.RelativeHumidity][]float64{
		20: {4.6, 4.6, 4.6, 4.5, 4.4, 4.3, 4.2},
		25: {5.5, 5.5, 5.4, 5.4, 5.3, 5.1, 5.0},
		30: {6.3, 6.3, 6.2, 6.2, 6.1, 5.9, 5.8},
		40: {7.9, 7.9, 7.8, 7.7, 7.6, 7.4, 7.2},
		50: {9.5, 9.5, 9.4, 9.2, 9.1, 8.9, math.NaN()},
		60: {11.3, 11.2, 11.1, 11.0, 10.8, 10.5, 10.3},
		65: {12.3, 12.3, 12.1, 12.0, 11.7, 11.5, 11.2},
		70: {13.5, 13.4, 13.3, 13.1, 12.9, 12.6, 12.3},
		80: {16.5, 16.4, 16.2, 16.0, 15.7, 15.4, 15.1},
	} {
		for i, want := range row {
			if math.IsNaN(want) {
				continue
			}
			near(t, "table 4-2", wood.EMC(sensors.FromFahrenheit(fahrenheit[i]), h), want, 0.06)
		}
	}
	// FPL-GTR-282 (2021), same table: its corners.
	near(t, "21.1 °C, 5 %", wood.EMC(21.1, 5), 1.3, 0.06)
	near(t, "21.1 °C, 95 %", wood.EMC(21.1, 95), 23.9, 0.06)
	near(t, "-1.1 °C, 95 %", wood.EMC(-1.1, 95), 24.3, 0.06)
	near(t, "37.8 °C, 90 %", wood.EMC(37.8, 90), 19.5, 0.06)
}

// The handbook's other set of constants, for degrees Fahrenheit, as a check
// that no digit of the first was lost.
func TestEMCFahrenheitConstants(t *testing.T) {
	for f := 40.0; f <= 100; f += 5 {
		w := 330 + 0.452*f + 0.00415*f*f
		k := 0.791 + 0.000463*f - 0.000000844*f*f
		k1 := 6.34 + 0.000775*f - 0.0000935*f*f
		k2 := 1.09 + 0.0284*f - 0.0000904*f*f
		for h := 0.1; h < 0.9; h += 0.1 {
			x := k1*k*h + k1*k2*k*k*h*h
			want := 1800 / w * (k*h/(1-k*h) + (k1*k*h+2*k1*k2*k*k*h*h)/(1+x))
			near(t, "Fahrenheit", wood.EMC(sensors.FromFahrenheit(f), sensors.RelativeHumidity(100*h)), want, 0.05)
		}
	}
	if got := wood.EMC(20, 0); got != 0 {
		t.Errorf("at 0 %%: got %v, want 0", got)
	}
}

func TestThermalProperties(t *testing.T) {
	b := wood.Typical(0.025)
	// Worked from Wood Handbook equation 4-15 and chapter 4's heat capacity.
	near(t, "conductivity", b.Conductivity(), 0.132, 0.0005)
	near(t, "density", b.Density(), 540, 1e-9)
	near(t, "heat capacity", wood.HeatCapacity(8, 20), 1504, 1)
	near(t, "diffusivity", b.Diffusivity(), 1.62e-7, 0.01e-7)
	// The worked example that cites the handbook at chemics.github.io: 1.91
	// kJ/(kg·K) at 12 %, 340 K.
	near(t, "heat capacity, 12 %, 340 K", wood.HeatCapacity(12, 340-sensors.ZeroCelsius), 1910, 5)
}

// Times for the difference at the surface to fall to 50, 20, 10 and 5 %, and
// the late time constant, in minutes, worked out apart from this code from the
// exact series.
func TestSurfaceLag(t *testing.T) {
	for _, c := range []struct {
		mm                                      float64
		half, fifth, tenth, twentieth, constant float64
	}{
		{18, 9.8, 26.9, 39.8, 52.8, 18.7}, {25, 12.6, 37.9, 57.0, 76.1, 27.5},
		{45, 17.1, math.NaN(), 110, 150, 58}, {70, 17.8, 109, 183, 258, 107},
	} {
		b := wood.Typical(c.mm / 1000)
		for share, want := range map[float64]float64{0.5: c.half, 0.2: c.fifth, 0.1: c.tenth, 0.05: c.twentieth} {
			if !math.IsNaN(want) {
				near(t, "lag", b.LagTime(share).Minutes(), want, 0.02*want)
			}
		}
		near(t, "time constant", b.TimeConstant().Minutes(), c.constant, 0.02*c.constant)
		if b.LumpedTimeConstant() >= b.TimeConstant() {
			t.Errorf("%v mm: lumped %v is not short of %v", c.mm, b.LumpedTimeConstant(), b.TimeConstant())
		}
	}
}

// A heat balance solved by small steps, which knows nothing of the series.
func TestLagAgainstFiniteDifferences(t *testing.T) {
	b := wood.Typical(0.025)
	const cells = 100
	dx := b.Thickness / 2 / cells
	dt := 0.4 * dx * dx / b.Diffusivity()
	theta := make([]float64, cells) // 0 at the middle of the board
	for i := range theta {
		theta[i] = 1
	}
	heat := b.Density() * wood.HeatCapacity(b.Moisture, 20) * dx
	surface := func() float64 { // between the outermost cell and the air
		inside, outside := 2*b.Conductivity()/dx, b.FilmCoefficient
		return theta[cells-1] * inside / (inside + outside)
	}
	for s := 0.0; s < 3600; s += dt {
		next := make([]float64, cells)
		for i := range theta {
			flow := 0.0
			if i > 0 {
				flow += b.Conductivity() / dx * (theta[i-1] - theta[i])
			}
			if i < cells-1 {
				flow += b.Conductivity() / dx * (theta[i+1] - theta[i])
			} else {
				flow -= b.FilmCoefficient * surface()
			}
			next[i] = theta[i] + dt*flow/heat
		}
		theta = next
	}
	near(t, "left after an hour", b.Lag(time.Hour), surface(), 0.002)
}

func TestModes(t *testing.T) {
	for _, mm := range []float64{1, 18, 70, 200} {
		sum, last := 0.0, time.Duration(math.MaxInt64)
		for _, m := range wood.Typical(mm / 1000).Modes(6) {
			if m.Time <= 0 || m.Time >= last {
				t.Errorf("%v mm: mode times do not fall: %v after %v", mm, m.Time, last)
			}
			sum, last = sum+m.Share, m.Time
		}
		near(t, "shares", sum, 1, 1e-12)
	}
	b := wood.Typical(0.025)
	if b.Lag(0) != 1 {
		t.Errorf("at once: %v is left, want all", b.Lag(0))
	}
	for m := range 300 {
		if b.Lag(time.Duration(m+1)*time.Minute) >= b.Lag(time.Duration(m)*time.Minute) {
			t.Fatalf("the difference grows in minute %d", m)
		}
	}
}

func TestBoardCheck(t *testing.T) {
	if err := wood.Typical(0.02).Check(); err != nil {
		t.Errorf("a plain board: %v", err)
	}
	for says, b := range map[string]wood.Board{
		"thickness":        wood.Typical(0),
		"specific gravity": {Thickness: 0.02, SpecificGravity: 5, Moisture: 8, FilmCoefficient: 7.7},
		"moisture":         {Thickness: 0.02, SpecificGravity: 0.5, Moisture: math.NaN(), FilmCoefficient: 7.7},
		"heat exchange":    {Thickness: 0.02, SpecificGravity: 0.5, Moisture: 8},
	} {
		if err := b.Check(); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%+v: got %v, want an error about the %s", b, err, says)
		}
	}
}
