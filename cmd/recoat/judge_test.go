package main

import (
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"recoat/sensors"
	"recoat/sensors/poll"
	"recoat/sensors/wiring"
)

// twinned is a node with two humidity sensors in the same air.
func twinned() wiring.Sensors {
	guard := func(probe string) *poll.Guard {
		return poll.NewGuard(poll.GuardConfig{Name: "chip " + probe, Channels: []sensors.Channel{
			{Quantity: sensors.AirTemperature, Probe: probe}, {Quantity: sensors.AirHumidity, Probe: probe},
		}})
	}
	return wiring.Sensors{Buses: []*poll.Bus{poll.NewBus(poll.BusConfig{Guards: []*poll.Guard{guard(""), guard("1-0045")}})}}
}

// pair is a round of both, of which the second reads so much more.
func pair(i int, more float64) []sensors.Reading {
	t, h := 20+float64(i%7)/10, 50+float64(i%5)/10
	at := func(q sensors.Quantity, probe string, v float64) sensors.Reading {
		return sensors.Reading{Channel: sensors.Channel{Quantity: q, Probe: probe}, Value: v}
	}
	return []sensors.Reading{
		at(sensors.AirTemperature, "", t), at(sensors.AirHumidity, "", h),
		at(sensors.AirTemperature, "1-0045", t+0.3), at(sensors.AirHumidity, "1-0045", h+more),
	}
}

// What separates two sensors is learnt in a day, outlives the agent, and tells
// later that one of them drifts.
func TestTwinsAreLearntKeptAndHeldAgainstEachOther(t *testing.T) {
	path := filepath.Join(t.TempDir(), "twins.json")
	open := func() *judge {
		j, err := newJudge(sensorsConfig{}, twinned(), path, slog.New(slog.NewTextHandler(testWriter{t}, nil)))
		if err != nil {
			t.Fatal(err)
		}
		return j
	}
	first := open()
	for i := range 25 * 60 {
		for _, r := range first.check(time.Duration(i)*time.Minute, pair(i, 2)) {
			if r.Quality != sensors.Good {
				t.Fatalf("minute %d: %+v", i, r)
			}
		}
	}
	if text, err := os.ReadFile(path); err != nil {
		t.Fatalf("%v, %s", err, text)
	}
	second := open()
	suspect := -1
	for i := range 12 * 60 {
		more := 2 + float64(i)*0.02 // 1.2 % an hour
		judged := second.check(time.Duration(i)*time.Minute, pair(i, more))
		if judged[0].Quality != sensors.Good {
			t.Fatalf("minute %d: the temperatures agree, and %+v", i, judged[0])
		}
		if suspect < 0 && judged[1].Quality == sensors.Suspect && judged[3].Quality == sensors.Suspect {
			suspect = i
		}
	}
	if suspect < 4*60 || suspect > 7*60 {
		t.Errorf("the drift is told after %d minutes, want about five hours", suspect)
	}
	if err := os.WriteFile(path, []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	open() // what cannot be read is learnt anew
}

// A chip two kelvins too warm shows too little humidity: 60 % of the air is 53 %
// of the chip's (WMO-No. 8, annex 4.B: the Magnus formula).
func TestAWarmChipIsReckonedForTheAir(t *testing.T) {
	cfg, err := loadConfig(write(t, "recoat.toml", "[[sensors.warm]]\nby = 2.0\n"))
	if err != nil {
		t.Fatal(err)
	}
	j, err := newJudge(cfg.Sensors, wiring.Sensors{}, filepath.Join(t.TempDir(), "twins.json"), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	got := j.check(0, []sensors.Reading{
		{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 22}, {Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 53},
	})
	if got[0].Value != 20 || got[1].Value < 59.7 || got[1].Value > 60.1 {
		t.Errorf("%+v", got)
	}
	if _, err := loadConfig(write(t, "recoat.toml", "[[sensors.warm]]\nby = 20.0\n")); err == nil {
		t.Error("a chip 20 K too warm is taken")
	}
}
