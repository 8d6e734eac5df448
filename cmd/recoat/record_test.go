package main

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"recoat/internal/audit"
	"recoat/internal/store/sqlite"
	"recoat/sensors"
)

// recorded is a shop with two coats on a dresser and two days of readings.
func recorded(t *testing.T) (s shell, applied time.Time) {
	t.Helper()
	s = newShell(t)
	label := filepath.Join(t.TempDir(), "enamel.toml")
	if err := os.WriteFile(label, []byte(hardEnamel), 0o600); err != nil {
		t.Fatal(err)
	}
	s.must("product", "add", label)
	s.must("piece", "add", "Dresser", "--part", "top")
	applied = time.Now().Add(-40 * time.Hour).Truncate(time.Minute)
	s.must("coat", "apply", "--product", "f-0001", "--part", "p-0001.1", "--at", applied.Format(time.RFC3339))
	s.must("coat", "apply", "--product", "f-0001", "--part", "p-0001.1", "--at", applied.Add(26*time.Hour).Format(time.RFC3339))
	store, err := sqlite.Open(t.Context(), filepath.Join(s.data, "readings.db"))
	if err != nil {
		t.Fatal(err)
	}
	var rounds []sensors.Round
	for n := range 63 * 12 {
		rounds = append(rounds, sensors.Round{Node: "bench", Boot: "4a7c", Seq: uint64(n + 1), ClockSet: true, Uptime: time.Duration(n) * 5 * time.Minute, Time: applied.Add(time.Duration(n)*5*time.Minute - 23*time.Hour),
			Readings: []sensors.Reading{
				{Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 18 + 2*math.Sin(float64(n)/50)},
				{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Value: 55 + 5*math.Sin(float64(n)/40)},
			}})
	}
	for some := range slices.Chunk(rounds, 50) { // as they come: the newest stay rows
		if err := store.Append(t.Context(), "back-room", some); err != nil {
			t.Fatal(err)
		}
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	return s, applied
}

func TestARecordIsWrittenAndVerifies(t *testing.T) {
	s, _ := recorded(t)
	folder := t.TempDir()
	s.must("coat", "defect", "c-0001", "--kind", "dust", "--where", "left end")
	for _, kind := range []string{"pdf", "html", "csv", "json"} {
		path := filepath.Join(folder, "record."+kind)
		s.must("report", "--coat", "c-0001", "--out", path)
		if info, err := os.Stat(path); err != nil || info.Size() < 5000 {
			t.Fatalf("%s: %v, %v", kind, info, err)
		}
		if kind == "pdf" {
			continue
		}
		if out, _ := s.must("verify", path); !strings.Contains(out, "as it was made") || !strings.Contains(out, "as it was sealed") {
			t.Errorf("%s: %s", kind, out)
		}
		s.must("verify", "--offline", path)
	}
	s.must("report", "--piece", "p-0001", "--out", filepath.Join(folder, "piece.json"))
	var d audit.Document
	text, err := os.ReadFile(filepath.Join(folder, "piece.json"))
	if err != nil || json.Unmarshal(text, &d) != nil || len(d.Coats) != 2 || len(d.Seals) < 3 || d.Coats[1].Coat.BelowAt == nil || len(d.Coats[0].Defects) != 1 {
		t.Errorf("%v: %d coats, %d seals", err, len(d.Coats), len(d.Seals))
	}
	if out, _ := s.must("compare", "c-0001", "c-0002"); !strings.Contains(out, "failed: Dust nibs") || !strings.Contains(out, "least air until dry to recoat") {
		t.Error(out)
	}
	s.must("coat", "note", "c-0001", "held in the end")
	if out, _ := s.must("verify", filepath.Join(folder, "record.json")); !strings.Contains(out, `edited since: c-0001: note was "", is "held in the end"`) {
		t.Error(out)
	}
}

func TestVerifyNamesWhatWasAltered(t *testing.T) {
	s, _ := recorded(t)
	path := filepath.Join(t.TempDir(), "record.json")
	s.must("report", "--coat", "c-0001", "--out", path)
	db, err := sql.Open("sqlite", filepath.Join(s.data, "readings.db"))
	if err != nil {
		t.Fatal(err)
	}
	var id int64
	if err := db.QueryRow(`SELECT min(id) + 40 FROM round`).Scan(&id); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`UPDATE round SET at = at + 1000 WHERE id = ?`, id); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"verify"}, {"verify", path}} {
		out, _, code := call(t, append(args, "--config", s.config)...)
		if code != exitFailed || !strings.Contains(out, fmt.Sprintf("round %d of bench (boot 4a7c) is not as it was sealed", id&(1<<42-1))) {
			t.Errorf("%v: exit %d: %s", args, code, out)
		}
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(text), `"Stone Stair enamel"`, `"Stone Stare enamel"`, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, _, code := call(t, "verify", "--offline", path); code != exitFailed || !strings.Contains(out, "NOT AS MADE") {
		t.Errorf("an altered document: exit %d: %s", code, out)
	}
}

func TestASensorIsCheckedFromTheShell(t *testing.T) {
	s, applied := recorded(t)
	if out, _ := s.must("sensors", "verify"); !strings.Contains(out, "never") || !strings.Contains(out, "relative-humidity") {
		t.Error(out)
	}
	out, _ := s.must("sensors", "verify", "--room", "back-room", "--node", "bench", "--channel", "relative-humidity",
		"--salt", "NaCl="+applied.Format(time.RFC3339)+"/"+applied.Add(3*time.Hour).Format(time.RFC3339))
	if !strings.Contains(out, "NaCl: reads") || !strings.Contains(out, "wait:") { // five minutes apart, the readings are too few
		t.Error(out)
	}
	_, stderr, code := call(t, "sensors", "verify", "--channel", "relative-humidity", "--ice", applied.Format(time.RFC3339), "--config", s.config)
	if code != exitUsage || !strings.Contains(stderr, "--salt") {
		t.Errorf("exit %d: %s", code, stderr)
	}
}
