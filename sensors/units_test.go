package sensors

import (
	"math"
	"testing"
)

// The fixed points of the scales: 0 °C is 273.15 K by the SI Brochure (9th
// edition, 2.3.1), 32 °F and 212 °F are 0 °C and 100 °C, and -40 is the same on
// both.
func TestTemperatureScales(t *testing.T) {
	for c, f := range map[Celsius]float64{0: 32, 100: 212, -40: -40, 37: 98.6} {
		if got := c.Fahrenheit(); math.Abs(got-f) > 1e-12 {
			t.Errorf("%v °C is %v °F, want %v", c, got, f)
		}
		if got := FromFahrenheit(f); math.Abs(float64(got-c)) > 1e-12 {
			t.Errorf("%v °F is %v °C, want %v", f, got, c)
		}
	}
	if got := Celsius(0).Absolute(); got != 273.15 {
		t.Errorf("0 °C is %v K", got)
	}
}

func TestDifferencesAreKelvins(t *testing.T) {
	if got := Celsius(14).Sub(11.5); got != 2.5 {
		t.Errorf("14 °C is %v K above 11.5 °C", got)
	}
	if got := Celsius(11.5).Add(-3); got != 8.5 {
		t.Errorf("3 K below 11.5 °C is %v °C", got)
	}
}
