package air

import (
	"math"
	"testing"

	"recoat/sensors"
)

// The table against the equation it stands for, over its whole span, and no
// step where one ends and the other begins.
func TestTableIsTheEquation(t *testing.T) {
	for at := tableLow - 1.0; at < tableLow+tableSize/tablePerKelvin+1; at += 0.0137 {
		e, slope := saturation(at)
		want, wantSlope := sonntag(at)
		if math.Abs(e/want-1) > 3e-8 || math.Abs(slope/wantSlope-1) > 1e-5 {
			t.Fatalf("%.3f °C: %.9g Pa and %.9g Pa/K, by the equation %.9g and %.9g", at, e, slope, want, wantSlope)
		}
	}
}

// The dew point of any pressure a float can hold is a number, and never of a
// damper pressure lower.
func TestDewPointOfAnyPressure(t *testing.T) {
	before := sensors.Celsius(math.Inf(-1))
	for e := sensors.Pascals(1e-300); e < 1e5; e *= 3 {
		dew := DewPointOf(e)
		if !sensors.IsFinite(float64(dew)) || dew < before {
			t.Fatalf("%g Pa: %v °C after %v °C", e, dew, before)
		}
		before = dew
	}
}

// The wet bulb balances heat, whatever Newton's method began with.
func TestWetBulbBalances(t *testing.T) {
	for at := sensors.Celsius(-40); at <= 80; at += 2.5 {
		for h := sensors.RelativeHumidity(0); h <= 100; h += 4 {
			tw := float64(WetBulb(at, h, 0))
			b := wetBulbBalance{air: float64(at), ratio: HumidityRatio(at, h, 0), pressure: float64(sensors.StandardPressure)}
			if step := b.at(tw); math.Abs(step) > 2e-5 {
				t.Fatalf("%v °C, %v %%: %v °C is %.2g K off", at, h, tw, step)
			}
		}
	}
}
