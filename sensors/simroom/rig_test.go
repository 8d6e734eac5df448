package simroom

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"recoat/drying/air"
	"recoat/sensors"
)

// fakeChip and fakeProbe keep what they were set to.
type fakeChip struct {
	air      sensors.Celsius
	humidity sensors.RelativeHumidity
	pressure sensors.Pascals
}

func (c *fakeChip) Set(t sensors.Celsius, h sensors.RelativeHumidity, p sensors.Pascals) {
	c.air, c.humidity, c.pressure = t, h, p
}

type fakeProbe struct {
	at    map[string]sensors.Celsius
	fails string
}

func (p *fakeProbe) Set(rom string, t sensors.Celsius) error {
	if rom == p.fails {
		return errors.New("no such file")
	}
	p.at[rom] = t
	return nil
}

func TestPerfectSensorsShowTheTruth(t *testing.T) {
	var chip fakeChip
	probe := fakeProbe{at: map[string]sensors.Celsius{}}
	rig, err := NewRig(RigConfig{
		Room:   newRoom(t, seeded("back-room", 1)),
		Air:    []AirMount{{Chip: &chip}},
		Probes: []ProbeMount{{Probe: &probe, ROM: "28-000000000001", Piece: "table top"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	for range 100 {
		truth := rig.Room().Truth()
		near(t, "air", float64(chip.air), float64(truth.Air), 1e-12)
		near(t, "humidity", float64(chip.humidity), float64(truth.Humidity), 1e-9)
		near(t, "pressure", float64(chip.pressure), float64(truth.Pressure), 1e-9)
		near(t, "surface", float64(probe.at["28-000000000001"]), float64(truth.Pieces[1].Surface), 1e-12)
		if err := rig.Advance(10 * time.Minute); err != nil {
			t.Fatal(err)
		}
	}
}

// A warm board reads the air too warm and too dry, and its own dew point is
// still the air's. 60 % read 1 K too warm near 20 °C is 56.4 %: by the table of
// the Handbook of Chemistry and Physics (1992-93), 60·2.3388/2.4877.
func TestSelfHeating(t *testing.T) {
	cfg := plain()
	cfg.Air, cfg.Humidity = 20, 60
	r := newRoom(t, cfg)
	v := airView{sensor: AirSensor{SelfHeating: 1}, rng: stream(1, 1)}
	chip, humidity, _ := v.see(r, time.Second)
	near(t, "chip", float64(chip), 21, 1e-9)
	near(t, "humidity at the chip", float64(humidity), 60*2.3388/2.4877, 0.06)
	near(t, "dew point at the chip", float64(air.DewPoint(chip, humidity)), float64(air.DewPoint(20, 60)), 1e-6)
}

// A first-order response has done 1 - 1/e of a step after its lag, in one
// stride or in many.
func TestLag(t *testing.T) {
	for _, strides := range []int{1, 60} {
		var l lag
		l.follow(10, 0, time.Minute)
		var got float64
		for range strides {
			got = l.follow(20, time.Minute/time.Duration(strides), time.Minute)
		}
		near(t, "after one lag", got, 20-10/math.E, 1e-9)
	}
}

func TestNoiseAndOffset(t *testing.T) {
	r := newRoom(t, plain())
	v := airView{
		sensor: AirSensor{TemperatureNoise: 0.05, HumidityNoise: 0.4, PressureNoise: 3, TemperatureOffset: 0.2, HumidityOffset: -1.5},
		rng:    stream(1, 1),
	}
	p := probeView{sensor: ProbeSensor{Noise: 0.1, Offset: 0.3}, rng: stream(1, 2)}
	var air, humidity, pressure, surface []float64
	for range 4000 {
		t, h, b := v.see(r, time.Second)
		air = append(air, float64(t))
		humidity = append(humidity, float64(h))
		pressure = append(pressure, float64(b))
		surface = append(surface, float64(p.see(15, time.Second)))
	}
	for _, x := range []struct {
		what         string
		values       []float64
		mean, spread float64
	}{
		{"air", air, 20.2, 0.05},
		{"humidity", humidity, 48.5, 0.4},
		{"pressure", pressure, 101325, 3},
		{"surface", surface, 15.3, 0.1},
	} {
		// Four standard errors of 4000 draws.
		near(t, x.what+" mean", stat.Mean(x.values, nil), x.mean, 4*x.spread/math.Sqrt(4000))
		near(t, x.what+" spread", stat.StdDev(x.values, nil), x.spread, 4*x.spread/math.Sqrt(8000))
	}
}

func TestTypicalSensorsStayInRange(t *testing.T) {
	var chip fakeChip
	rig, err := NewRig(RigConfig{
		Room: newRoom(t, seeded("garage", 3)),
		Air:  []AirMount{{Chip: &chip, Sensor: TypicalAirSensor()}},
	})
	if err != nil {
		t.Fatal(err)
	}
	for range 2000 {
		if err := rig.Advance(10 * time.Minute); err != nil {
			t.Fatal(err)
		}
		if !(chip.humidity >= 0 && chip.humidity <= 100) {
			t.Fatalf("the chip was set to %v %%", chip.humidity)
		}
	}
}

func TestRigReportsAProbeAndSetsTheOthers(t *testing.T) {
	probe := fakeProbe{at: map[string]sensors.Celsius{}}
	cfg := RigConfig{
		Room: newRoom(t, seeded("back-room", 1)),
		Probes: []ProbeMount{
			{Probe: &probe, ROM: "28-000000000001", Piece: "table top"},
			{Probe: &probe, ROM: "28-000000000002", Piece: "drawer fronts"},
		},
	}
	rig, err := NewRig(cfg)
	if err != nil {
		t.Fatal(err)
	}
	clear(probe.at)
	probe.fails = "28-000000000001"
	if err := rig.Advance(time.Minute); err == nil || !strings.Contains(err.Error(), probe.fails) {
		t.Errorf("got %v, which should name the probe", err)
	}
	if _, set := probe.at["28-000000000002"]; !set {
		t.Error("the failing probe held up the other one")
	}
	cfg.Probes[0].Piece = "leg"
	if _, err := NewRig(cfg); err == nil || !strings.Contains(err.Error(), `"leg"`) {
		t.Errorf("a probe on no piece: %v", err)
	}
	if _, err := NewRig(RigConfig{}); err == nil {
		t.Error("a rig without a room was made")
	}
}
