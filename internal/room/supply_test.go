package room

import (
	"slices"
	"testing"
	"time"

	"recoat/sensors"
)

// A machine that has no volts to tell says that they are too few; that is told
// once, and its end.
func TestAMachineThatSaysItsSupplyIsLowIsToldOf(t *testing.T) {
	w := newRoom()
	alarm := func(v float64) sensors.Reading { return reading(sensors.Undervoltage, "", v) }
	w.minutely(0, 10*time.Minute, warm(20), damp(50), alarm(0))
	if got := w.heard("supply"); len(got) != 0 {
		t.Errorf("told %v of a supply that is well", got)
	}
	w.minutely(10*time.Minute, 30*time.Minute, warm(20), damp(50), alarm(1))
	if got := w.heard("supply"); !slices.Equal(got, []string{"supply bench first"}) {
		t.Errorf("told %v", got)
	}
	w.minutely(30*time.Minute, time.Hour, warm(20), damp(50), alarm(0))
	if got := w.heard("supply"); len(got) != 2 || got[1] != "supply bench cleared" {
		t.Errorf("told %v", got)
	}
}
