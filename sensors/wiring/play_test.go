package wiring

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
)

func TestARecordingIsPlayedAtItsOwnPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		air := sensors.Channel{Quantity: sensors.AirTemperature}
		surface := sensors.Channel{Quantity: sensors.SurfaceTemperature}
		at := func(after time.Duration, readings ...sensors.Reading) Played { return Played{after, readings} }
		s, err := Play("night.csv", []Played{
			at(70*time.Minute, sensors.Reading{Channel: air, Value: 12}),
			at(10*time.Minute, sensors.Reading{Channel: air, Value: 20}),
			at(20*time.Minute, sensors.Reading{Channel: air, Value: 18}, sensors.Reading{Channel: surface, Value: 16}),
		})
		if err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		for _, c := range []struct {
			after        time.Duration
			air, surface float64 // 0: missing
			says         string
		}{
			{0, 20, 0, ""}, {9 * time.Minute, 20, 0, ""}, {10 * time.Minute, 18, 16, ""}, {24 * time.Minute, 18, 16, ""},
			{40 * time.Minute, 0, 0, "gap"}, {62 * time.Minute, 12, 0, ""}, {2 * time.Hour, 0, 0, "over"},
		} {
			time.Sleep(c.after - time.Since(start))
			got := s.Read(t.Context(), time.Now())[0]
			for i, want := range []float64{c.air, c.surface} {
				if r := got.Readings[i]; r.Value != want || (r.Quality == sensors.Missing) != (want == 0) {
					t.Errorf("after %s: %+v, want %v", c.after, r, want)
				}
			}
			if !strings.Contains(got.Health.Err, c.says) || (c.says == "") != got.Health.OK {
				t.Errorf("after %s: %+v", c.after, got.Health)
			}
		}
	})
	if _, err := Play("empty.csv", nil); err == nil {
		t.Error("nothing is played")
	}
}
