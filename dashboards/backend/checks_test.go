package backend

import (
	"errors"
	"math"
	"path/filepath"
	"testing"
	"time"

	"recoat/dashboards"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// soaking is a store in which a sensor that reads 0.95 of the truth plus 3 was
// with NaCl from noon and with MgCl2 from four o'clock, at 20 °C, and a probe
// that reads 0.4 K too much in ice from noon.
func soaking(t *testing.T, noon time.Time) Checks {
	t.Helper()
	raw := store.NewMemory()
	dry, _ := calibration.FindSalt("MgCl2")
	damp, _ := calibration.FindSalt("NaCl")
	low, _ := dry.Humidity(20)
	high, _ := damp.Humidity(20)
	var rounds []sensors.Round
	for n := range 6 * 60 * 2 {
		at := noon.Add(time.Duration(n) * 30 * time.Second)
		truth, since := high, at.Sub(noon)
		if since >= 4*time.Hour {
			truth, since = low, since-4*time.Hour
		}
		settled := 1 - math.Exp(-since.Minutes()/8)
		rounds = append(rounds, sensors.Round{Node: "bench", Boot: "4a", Seq: uint64(n + 1), ClockSet: true, Time: at, Readings: []sensors.Reading{
			{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 20},
			{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 50 + (0.95*truth+3-50)*settled},
			{Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "top"}, Value: 0.4 + 20*math.Exp(-since.Minutes())},
		}})
	}
	if err := raw.Append(t.Context(), "attic", rounds); err != nil {
		t.Fatal(err)
	}
	j, err := shop.OpenJournal(t.Context(), filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return Checks{Readings: raw, Journal: j}
}

func TestASaltCheckOfTwoPointsFindsWhatIsWrongAndKeepsIt(t *testing.T) {
	noon := time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)
	c := soaking(t, noon)
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	check := dashboards.Check{Room: "attic", Node: "bench", Channel: rh, Who: "A. Finisher", Due: noon.AddDate(1, 0, 0), Points: []dashboards.CheckPoint{{Salt: "NaCl", From: noon}}}
	early, err := c.Look(t.Context(), check, noon.Add(20*time.Minute))
	if err != nil || early.Fit != nil || early.Points[0].Left != 40*time.Minute {
		t.Fatalf("after twenty minutes: %+v, %v", early, err)
	}
	var input *shop.InputError
	if _, err := c.Keep(t.Context(), check, noon.Add(20*time.Minute)); !errors.As(err, &input) {
		t.Errorf("kept too early: %v", err)
	}
	one, err := c.Look(t.Context(), check, noon.Add(3*time.Hour))
	if err != nil || one.Fit == nil || one.Fit.Gain != 1 || math.Abs(one.Fit.Offset-(75.479-(0.95*75.479+3))) > 0.05 {
		t.Fatalf("one point: %+v, %v", one.Fit, err)
	}
	check.Points = []dashboards.CheckPoint{{Salt: "NaCl", From: noon, To: noon.Add(3 * time.Hour)}, {Salt: "MgCl2", From: noon.Add(4 * time.Hour)}}
	kept, err := c.Keep(t.Context(), check, noon.Add(6*time.Hour-time.Minute))
	if err != nil || kept.Method != calibration.SaltTwo || math.Abs(kept.Gain-1/0.95) > 1e-3 || math.Abs(kept.Apply(0.95*60+3)-60) > 0.05 {
		t.Fatalf("two points: %+v, %v", kept, err)
	}
	all, err := c.Sensors(t.Context())
	if err != nil || len(all) != 3 || all[1].Channel != rh || all[1].Check == nil || all[1].Check.ID != kept.ID || all[0].Check != nil {
		t.Errorf("%+v, %v", all, err)
	}
}

func TestAnIcePointGivesAnOffset(t *testing.T) {
	noon := time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)
	c := soaking(t, noon)
	check := dashboards.Check{Room: "attic", Node: "bench", Channel: sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "top"}, Who: "A. Finisher", Due: noon.AddDate(1, 0, 0), Points: []dashboards.CheckPoint{{From: noon}}}
	kept, err := c.Keep(t.Context(), check, noon.Add(40*time.Minute))
	if err != nil || kept.Method != calibration.IcePoint || math.Abs(kept.Offset+0.4) > 0.01 || kept.Gain != 1 {
		t.Errorf("%+v, %v", kept, err)
	}
}

func TestACheckThatNamesNothingKnownIsRefused(t *testing.T) {
	noon := time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)
	c := soaking(t, noon)
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	for what, p := range map[string]dashboards.CheckPoint{"a salt": {Salt: "sugar", From: noon}, "no time": {Salt: "NaCl"}, "long ago": {Salt: "NaCl", From: noon.AddDate(0, 0, -9)}} {
		var input *shop.InputError
		if _, err := c.Look(t.Context(), dashboards.Check{Room: "attic", Node: "bench", Channel: rh, Points: []dashboards.CheckPoint{p}}, noon.Add(2*time.Hour)); !errors.As(err, &input) {
			t.Errorf("%s: %v", what, err)
		}
	}
}
