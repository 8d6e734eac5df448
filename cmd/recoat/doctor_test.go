package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"recoat/internal/doctor"
	"recoat/internal/telemetry"
)

// A doctor in a root of files goes through everything, and its exit says whether
// something is wrong.
func TestTheDoctorGoesThroughEverything(t *testing.T) {
	_, wire := probes(t)
	text := fmt.Sprintf("[sensors]\nroot = %q\n[data]\nfolder = %q\n[pages]\nlisten = \"127.0.0.1:0\"\n", wire.Root, t.TempDir())
	config := write(t, "recoat.toml", text)
	var out bytes.Buffer
	if err := (&doctorCommand{Config: config, JSON: true}).Run(&session{ctx: t.Context(), stdout: &out, stderr: io.Discard}); err != nil && !errors.Is(err, errUnwell) {
		t.Fatal(err)
	}
	var all []doctor.Finding
	if err := json.Unmarshal(out.Bytes(), &all); err != nil {
		t.Fatal(err)
	}
	subjects := map[string]string{}
	for _, f := range all {
		subjects[f.Subject] = f.State
		if f.State == doctor.NotOK && f.Do == "" {
			t.Errorf("nothing to do about: %+v", f)
		}
	}
	for subject, want := range map[string]string{
		"configuration": doctor.OK, "machine": doctor.OK, "battery clock": doctor.NotThere, "supply": doctor.NotThere, "heat": doctor.NotThere,
		"card": doctor.NotThere, "bus": doctor.NotThere, "1-wire": doctor.OK, "sensor": doctor.OK, "store": doctor.NotThere,
		"broker": doctor.OK, "hubs": doctor.OK, "hub": doctor.NotThere, "pages": doctor.OK, "phone": doctor.NotThere,
	} {
		if subjects[subject] != want {
			t.Errorf("%s is %q, want %q", subject, subjects[subject], want)
		}
	}
	for _, subject := range []string{"clock", "disk"} { // of the machine that runs the test
		if subjects[subject] == "" {
			t.Errorf("no word on the %s", subject)
		}
	}
}

func TestThePagesOfARunningRecoatAreWell(t *testing.T) {
	say := "ok\n"
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/healthz" {
			fmt.Fprint(w, say)
		}
	}))
	defer server.Close()
	cfg := defaults()
	cfg.Pages.Listen = strings.TrimPrefix(server.URL, "http://")
	if f := lookAtPages(t.Context(), cfg); f.State != doctor.OK || !strings.Contains(f.Detail, "recoat runs") {
		t.Errorf("%+v", f)
	}
	say = "hello"
	if f := lookAtPages(t.Context(), cfg); f.State != doctor.NotOK || f.Do == "" {
		t.Errorf("another's server: %+v", f)
	}
}

// Phones come in over TLS, on all addresses, to a gate: that is recoat too.
func TestThePagesForPhonesAreWell(t *testing.T) {
	said := "Log in first."
	server := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { http.Error(w, said, http.StatusUnauthorized) }))
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	defer server.Close()
	cfg := defaults()
	cfg.Pages.Listen = strings.TrimPrefix(server.URL, "https://")
	if f := lookAtPages(t.Context(), cfg); f.State != doctor.OK || !strings.Contains(f.Detail, "https://") {
		t.Errorf("%+v", f)
	}
	said = "Who are you?"
	if f := lookAtPages(t.Context(), cfg); f.State != doctor.NotOK {
		t.Errorf("another's gate: %+v", f)
	}
	for listen, want := range map[string]string{"0.0.0.0:7423": "127.0.0.1:7423", ":7423": "127.0.0.1:7423", "[::]:1": "127.0.0.1:1", "192.0.2.7:1": "192.0.2.7:1"} {
		if got := fromHere(listen); got != want {
			t.Errorf("%s is asked at %s, want %s", listen, got, want)
		}
	}
}

func TestOfflineTonightIsAtThisMachine(t *testing.T) {
	loop := &net.IPNet{IP: net.IPv4(127, 0, 0, 1)}
	out := &net.IPNet{IP: net.IPv4(192, 0, 2, 7)}
	if got := outward([]net.Addr{loop}).String(); got != "127.0.0.1" {
		t.Error(got)
	}
	if got := outward([]net.Addr{loop, out}).String(); got != "192.0.2.7" {
		t.Error(got)
	}
}

func TestTheHubIsJudgedByWhatWaits(t *testing.T) {
	now := time.Date(2026, 3, 1, 23, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		b     telemetry.Backlog
		state string
		says  string
	}{
		{telemetry.Backlog{}, doctor.OK, "every round"},
		{telemetry.Backlog{Dropped: 7}, doctor.OK, "7 were lost"},
		{telemetry.Backlog{Rounds: 3, Oldest: now.Add(-time.Minute)}, doctor.OK, "but the last 3"},
		{telemetry.Backlog{Rounds: 300, Oldest: now.Add(-time.Hour)}, doctor.NotOK, "wait for it: 300"},
		{telemetry.Backlog{Rounds: 1, Oldest: now.Add(-90 * 24 * time.Hour)}, doctor.NotOK, "wait for it: 1"},
	} {
		if f := hubBy(c.b, now); f.State != c.state || !strings.Contains(f.Detail, c.says) {
			t.Errorf("%+v: %+v", c.b, f)
		}
	}
}

func TestABrokerThatIsNotThereIsNotWell(t *testing.T) {
	cfg := defaults()
	cfg.Broker.URL = "tcp://127.0.0.1:1"
	if f := lookAtBroker(t.Context(), cfg); f.State != doctor.NotOK || f.Do == "" {
		t.Errorf("%+v", f)
	}
}
