package main

import (
	"fmt"
	"time"

	"recoat/drying"
	"recoat/internal/recording"
	"recoat/sensors"
	"recoat/sensors/wiring"
)

// playFile makes the sensors of a node of a recorded room.
func playFile(path string) (wiring.Sensors, error) {
	samples, report, err := recording.ReadFile(path, time.Local)
	if err != nil {
		return wiring.Sensors{}, err
	}
	list := make([]wiring.Played, len(samples))
	for i, s := range samples {
		list[i] = wiring.Played{After: s.At.Sub(samples[0].At), Readings: spoken(s.Conditions)}
	}
	found, err := wiring.Play(path, list)
	if err != nil {
		return wiring.Sensors{}, err
	}
	for _, p := range report.Problems {
		found.Failures = append(found.Failures, fmt.Errorf("%s, %s", path, p))
	}
	return found, nil
}

// spoken is what sensors would have said of recorded conditions.
func spoken(c drying.Conditions) []sensors.Reading {
	var all []sensors.Reading
	add := func(q sensors.Quantity, probe string, v float64) {
		all = append(all, sensors.Reading{Channel: sensors.Channel{Quantity: q, Probe: probe}, Value: v})
	}
	add(sensors.AirTemperature, "", float64(c.Air))
	add(sensors.AirHumidity, "", float64(c.Humidity))
	if c.SurfaceMeasured {
		add(sensors.SurfaceTemperature, "recorded", float64(c.Surface))
	}
	if c.Pressure > 0 {
		add(sensors.AirPressure, "", float64(c.Pressure))
	}
	if c.AirSpeed > 0 {
		add(sensors.AirSpeed, "", float64(c.AirSpeed))
	}
	return all
}
