package main

import (
	"bytes"
	"fmt"
	"os"
	"testing"
	"time"

	"recoat/sensors/simroom"
)

const sample = "../../testdata/rooms/simulated-back-room.csv"

// The sample room of the README is what the simulator makes of its seed. With
// RECOAT_WRITE_SAMPLE set, it is written anew.
func TestTheSampleRoomIsTheSimulators(t *testing.T) {
	room, err := simroom.Preset("back-room")
	if err != nil {
		t.Fatal(err)
	}
	room.Seed = 5
	var want bytes.Buffer
	want.WriteString("time,air_c,rh_pct,surface_c,pressure_hpa\n")
	start := time.Date(2026, 1, 16, 0, 0, 0, 0, time.UTC)
	err = simroom.Record(room, start, 16*24*time.Hour, 15*time.Minute, func(at time.Time, truth simroom.Truth) {
		fmt.Fprintf(&want, "%s,%.2f,%.1f,%.2f,%.1f\n", at.Format(time.RFC3339), truth.Air, truth.Humidity, truth.Pieces[1].Surface, truth.Pressure/100)
	})
	if err != nil {
		t.Fatal(err)
	}
	if os.Getenv("RECOAT_WRITE_SAMPLE") != "" {
		if err := os.WriteFile(sample, want.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(sample)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want.Bytes()) {
		t.Error("the sample is not what the simulator makes: RECOAT_WRITE_SAMPLE=1 writes it anew")
	}
}
