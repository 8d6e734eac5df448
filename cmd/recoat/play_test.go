package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A recorded room shows on the pages as a present one, and in a folder of its own.
func TestARecordedRoomIsPlayed(t *testing.T) {
	data := t.TempDir()
	readings := write(t, "night.csv", "time,air_c,rh_pct,surface_c\n2026-03-01T21:00:00Z,14.5,71,13.25\n2026-03-01T21:10:00Z,14,72,13\n")
	config := write(t, "recoat.toml", fmt.Sprintf("[data]\nfolder = %q\n[pages]\nlisten = \"127.0.0.1:0\"\n[sensors]\nevery = \"1s\"\n", data))
	url := startForAddress(t, "up", "--play", readings, "--config", config)
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(200 * time.Millisecond) {
		if air, ok := airNow(url); ok {
			if air != 14.5 {
				t.Errorf("the air is %v °C, want 14.5", air)
			}
			break
		}
		if time.Now().After(end) {
			t.Fatal("no air within half a minute")
		}
	}
	if _, err := os.Stat(filepath.Join(data, "played", "readings.db")); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(data, "readings.db")); err == nil {
		t.Error("what is played lies among real readings")
	}
}

// airNow asks for the temperature of the first room.
func airNow(url string) (float64, bool) {
	answer, err := http.Get(url + "api/rooms")
	if err != nil {
		return 0, false
	}
	defer func() { _ = answer.Body.Close() }()
	var rooms struct {
		Rooms []struct {
			Air *struct {
				Celsius float64 `json:"air_c"`
			} `json:"air"`
		} `json:"rooms"`
	}
	if json.NewDecoder(answer.Body).Decode(&rooms) != nil || len(rooms.Rooms) == 0 || rooms.Rooms[0].Air == nil {
		return 0, false
	}
	return rooms.Rooms[0].Air.Celsius, true
}
