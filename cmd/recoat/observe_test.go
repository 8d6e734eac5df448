package main

import (
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A recoat that runs shows its readings as measurements, on the address that is
// configured and nowhere else.
func TestMeasurementsOfARunningRecoat(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	path, _ := writeConfig(t, "http://127.0.0.1:9/phone")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "observed.toml")
	if err := os.WriteFile(path, append(text, "\n[observe]\nlisten = \""+at+"\"\n[log]\nlevel = \"warn\"\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	pages := startForAddress(t, "up", "--simulate", "--config", path)
	want := []string{"recoat_readings_total{room=", `quality="good"`, "recoat_reading_commit_seconds_count ", "recoat_disk_free_bytes ", "# EOF"}
	var last string
	for end := time.Now().Add(time.Minute); ; time.Sleep(200 * time.Millisecond) {
		missing := ""
		last = fetch(t, "http://"+at+"/metrics")
		for _, w := range want {
			if !strings.Contains(last, w) {
				missing = w
			}
		}
		if missing == "" && strings.HasPrefix(fetch(t, "http://"+at+"/readyz"), "ready") {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("still missing %q in\n%s", missing, last)
		}
	}
	if strings.Contains(fetch(t, pages+"debug/pprof/"), "goroutine") || strings.Contains(fetch(t, pages+"metrics"), "recoat_") {
		t.Error("the pages show what is for this machine alone")
	}
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	answer, err := http.Get(url)
	if err != nil {
		return err.Error()
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

func TestWhereMeasurementsMayNotBeShown(t *testing.T) {
	for text, want := range map[string]string{
		"[observe]\nlisten = \"0.0.0.0:7424\"": "for this machine alone",
		"[observe]\nlisten = \"7424\"":         "observe.listen",
		"[log]\nlevel = \"loud\"":              "not a level",
	} {
		if _, err := loadConfig(storeFile(t, text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
