package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"recoat/internal/alert"
)

// A damp night with a coat in it: what would have been sent, and when.
func TestReplayShowsTheMessagesOfTheNight(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,air_c,rh_pct\n")
	begin := time.Date(2026, 1, 2, 21, 0, 0, 0, time.UTC)
	for m := range 12 * 60 {
		rh := 50
		if m >= 90 && m < 130 {
			rh = 96
		}
		fmt.Fprintf(&b, "%s,20,%d\n", begin.Add(time.Duration(m)*time.Minute).Format(time.RFC3339), rh)
	}
	product := write(t, "quick.toml", strings.Replace(quick, `recoat = "10m"`, `recoat = "4h"`, 1))
	readings := write(t, "r.csv", b.String())
	config := write(t, "recoat.toml", "[pages]\nunits = \"F\"\n[alerts]\nquiet = \"22:00-06:30\"\n")
	args := []string{"replay", "--product", product, "--applied", "2026-01-02T22:00:00Z", readings, "--alerts", "--config", config}
	out, errs, code := call(t, append(args, "--json")...)
	var report struct {
		Messages []replayMessage `json:"messages"`
	}
	if err := json.Unmarshal([]byte(out), &report); err != nil || code != 0 {
		t.Fatalf("%v, %d, %s", err, code, errs)
	}
	if len(report.Messages) < 2 {
		t.Fatalf("%+v", report.Messages)
	}
	first, last := report.Messages[0], report.Messages[len(report.Messages)-1]
	if first.Severity != "critical" || first.Cause != "first" || first.Sent == nil || first.Sent.Sub(first.At) > time.Minute || !strings.Contains(first.Body, "°F") || strings.Contains(first.Body, "°C") {
		t.Errorf("the damp at night: %+v", first)
	}
	if last.Cause != "digest" || last.Sent == nil || last.Sent.UTC().Format("15:04") != "06:30" {
		t.Errorf("what waits for morning: %+v", last)
	}
	if out, _, code := call(t, args...); code != 0 || !strings.Contains(out, fmt.Sprintf("%d messages would have been sent:", len(report.Messages))) {
		t.Errorf("%d: %s", code, out)
	}
}

func TestTheDoctorTriesEveryWayAndSaysWhatCameOfIt(t *testing.T) {
	got := 0
	good := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { got++ }))
	defer good.Close()
	bad := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) }))
	defer bad.Close()
	local := func(s *httptest.Server) string {
		return strings.Replace(s.URL, "127.0.0.1", "localhost", 1) + "/secret-path"
	}
	config := write(t, "recoat.toml", fmt.Sprintf("[data]\nfolder = %q\n[alerts]\nchannels = [%q, %q]\n[alerts.heartbeat]\nurl = %q\n",
		t.TempDir(), local(good), local(bad), local(good)))
	out, _, _ := call(t, "doctor", "--config", config)
	if got != 0 || !strings.Contains(out, "nothing was sent") {
		t.Errorf("without --send %d were sent: %s", got, out)
	}
	out, _, code := call(t, "doctor", "--send", "--config", config)
	if code != exitFailed || got != 2 || !strings.Contains(out, "answered 403 Forbidden") || !strings.Contains(out, "taken after") || strings.Contains(out, "secret-path") {
		t.Errorf("%d, %d arrived: %s", code, got, out)
	}
}

func TestTellKeepsListsAndTakesBack(t *testing.T) {
	folder := t.TempDir()
	config := write(t, "recoat.toml", fmt.Sprintf("[data]\nfolder = %q\n", folder))
	if _, errs, code := call(t, "tell", "ask", "--room", "back-room", "--config", config); code != exitFailed || !strings.Contains(errs, "no hub has run") {
		t.Errorf("%d %s", code, errs)
	}
	o, err := alert.OpenOutbox(t.Context(), filepath.Join(folder, "outbox.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = o.Close() }()
	if _, errs, code := call(t, "tell", "ask", "--room", "back-room", "--config", config); code != 0 {
		t.Fatal(errs)
	}
	wishes, err := o.Wishes(t.Context())
	if err != nil || len(wishes) != 1 || wishes[0].Room != "back-room" {
		t.Fatalf("%v, %v", wishes, err)
	}
	if out, _, _ := call(t, "tell", "list", "--json", "--config", config); !strings.Contains(out, wishes[0].ID) {
		t.Error(out)
	}
	for _, want := range []int{0, exitFailed} {
		if _, errs, code := call(t, "tell", "drop", wishes[0].ID, "--config", config); code != want {
			t.Errorf("%d %s", code, errs)
		}
	}
	if _, _, code := call(t, "tell", "ask", "--config", config); code != exitUsage {
		t.Errorf("nothing named: %d", code)
	}
}

func TestAlertSettingsThatAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"[links]\nlisten = \"0.0.0.0:7424\"\n":                             "go together",
		"[links]\nlisten = \"0.0.0.0:7424\"\naddress = \"0.0.0.0:7424\"\n": "links.address",
		"[links]\nlisten = \"nowhere\"\naddress = \"192.0.2.7:7424\"\n":    "links.listen",
		"[alerts]\nself_test = \"Someday 18:00\"\n":                        "Sun 18:00",
		"[alerts]\nall_well = \"25:00\"\n":                                 "time of day",
		"[pages]\nunits = \"K\"\n":                                         "C or F",
	} {
		if _, err := loadConfig(write(t, "recoat.toml", text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	c, err := loadConfig(write(t, "recoat.toml", "[alerts]\nself_test = \"mon 07:15\"\nall_well = \"\"\n"))
	if err != nil || c.Alerts.SelfTest.String() != "Mon 07:15" || c.Alerts.AllWell.Daily != nil {
		t.Errorf("%v, %v", c.Alerts.SelfTest, err)
	}
}
