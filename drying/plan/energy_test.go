package plan

import (
	"math"
	"testing"
	"time"
)

// A room of 60 m³ whose air changes three times an hour loses 0.34·180 W/K by
// its air (EN 12831-1, from memory) and here 120 W/K by its walls: 4 K for ten
// hours are 4·(61.2+120)·10 Wh.
func TestEnergyOfAWarmerRoom(t *testing.T) {
	got := Change{RaiseAir: 4}.Energy(10 * time.Hour)
	if math.Abs(got.High-7.248) > 1e-9 || !(got.Low > 1) || got.Low >= got.High {
		t.Errorf("%+v", got)
	}
	if both := (Change{RaiseAir: 4, HoldHumidity: 45, MoveAir: 0.5}).Energy(10 * time.Hour); math.Abs(both.High-(7.248+5+0.8)) > 1e-9 {
		t.Errorf("with a dehumidifier of 500 W and a fan of 80 W: %+v", both)
	}
	for _, c := range []Change{{}, {Film: 80}} {
		if e := c.Energy(time.Hour); e != (Energy{}) {
			t.Errorf("%+v takes %+v", c, e)
		}
	}
	if e := (Change{RaiseAir: 4}).Energy(-time.Hour); e != (Energy{}) {
		t.Errorf("in no time it takes %+v", e)
	}
}
