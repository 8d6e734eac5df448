package simroom

import (
	"testing"
	"time"

	"recoat/drying/air"
	"recoat/sensors"
)

// What crosses the boundary in a minute, with the door shut and nobody in, with
// it open, and with people: 15 K of difference, flows of dry air by hand.
func TestDoorAndPeople(t *testing.T) {
	cfg := plain()
	cfg.Work.Heat, cfg.Work.Vapour = 250, 0.06
	lack := air.HumidityRatio(2, 100, sensors.StandardPressure) - air.HumidityRatio(20, 50, sensors.StandardPressure)
	for _, row := range []struct {
		what           string
		open, occupied bool
		changes        float64
		heat, vapour   float64 // of people, per second
		speed          sensors.MetresPerSecond
	}{
		{"shut and empty", false, false, 0.6, 0, 0, 0.1},
		{"open", true, false, 10, 0, 0, 0.3},
		{"people", false, true, 0.6, 250, 0.06 / 3600, 0.1},
	} {
		r := newRoom(t, cfg)
		r.doorOpen, r.occupied = row.open, row.occupied
		flow := row.changes * 50 * 1.2 / 3600 // kg/s
		heat, vapour := r.acrossBoundary(60)
		near(t, row.what+": heat", heat, 60*(row.heat-15*(75+flow*1006)), 1e-6)
		near(t, row.what+": vapour", vapour, 60*(row.vapour+flow*lack), 1e-12)
		if got := r.ambient().speed; got != row.speed {
			t.Errorf("%s: the air moves at %v m/s, want %v", row.what, got, row.speed)
		}
	}
}

// At 20 °C and 50 % the dew point is 9.27 °C (Sonntag's formula, computed apart
// from this project). A pane of U 5 stands at 20 - 5·0.13·ΔT: dry at 10.25 °C
// with 5 °C outside, wet at 7 °C with 0 °C outside.
func TestPaneWetsBelowTheDewPoint(t *testing.T) {
	for outdoors, wet := range map[sensors.Celsius]bool{5: false, 0: true} {
		cfg := plain()
		cfg.WindowArea, cfg.Climate.Mean = 3, outdoors
		r := newRoom(t, cfg)
		if gain := r.fromPane(r.ambient()); (gain < 0) != wet || (r.pane.water > 0) != wet {
			t.Errorf("%v °C outside: the air gains %g kg and the pane holds %g kg/m², wet should be %v", outdoors, gain, r.pane.water, wet)
		}
	}
}

func TestThermostatHasHysteresis(t *testing.T) {
	b := burner{heater: Heater{Power: 100, Day: 20, Until: day, Hysteresis: 1}}
	for _, step := range []struct {
		room sensors.Celsius
		want float64
	}{{19.6, 0}, {19.4, 100}, {20.4, 100}, {20.6, 0}, {19.6, 0}, {19.4, 100}} {
		if got := b.step(start, 10*time.Second, step.room, false); got != step.want {
			t.Errorf("at %v °C the heater gives %v W, want %v", step.room, got, step.want)
		}
	}
}
