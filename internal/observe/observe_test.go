package observe

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
)

var dusk = time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)

func filled(t *testing.T) *Meter {
	t.Helper()
	m := NewMeter(func() time.Time { return dusk.Add(3 * time.Second) },
		Gauge{Name: "recoat_disk_free_bytes", Unit: "bytes", Help: "Room left.", Read: func(context.Context) (float64, bool) { return 1 << 30, true }},
		Gauge{Name: "recoat_unknown", Help: "Never known.", Read: func(context.Context) (float64, bool) { return 0, false }})
	air := sensors.Channel{Quantity: sensors.AirTemperature}
	stored := 0
	d := m.Delivery(telemetry.Delivery{Room: "attic", Node: "bench", Stored: func() { stored++ }, Rounds: []sensors.Round{
		{Node: "bench", Boot: "b1", Seq: 1, Time: dusk, ClockSet: true, Readings: []sensors.Reading{{Channel: air, Value: 20}}},
		{Node: "bench", Boot: "b1", Seq: 2, Time: dusk.Add(time.Second), ClockSet: true, Readings: []sensors.Reading{{Channel: air, Value: 85, Quality: sensors.Suspect}}},
		{Node: "be\"n\\ch", Boot: "b1", Seq: 3, Time: dusk.Add(-time.Hour), Readings: []sensors.Reading{{Channel: air, Value: 20}}},
	}})
	d.Stored()
	if stored != 1 {
		t.Fatalf("the store's own word was passed on %d times", stored)
	}
	return m
}

func TestWhatIsShown(t *testing.T) {
	var b strings.Builder
	if err := filled(t).Write(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		`recoat_disk_free_bytes 1.073741824e+09`,
		`recoat_readings_total{room="attic",node="bench",channel="air-temperature",quality="good"} 1`,
		`recoat_readings_total{room="attic",node="bench",channel="air-temperature",quality="suspect"} 1`,
		`recoat_readings_total{room="attic",node="be\"n\\ch",channel="air-temperature",quality="good"} 1`,
		`recoat_last_good_timestamp_seconds{room="attic",node="bench",channel="air-temperature"} 1.927908e+09`,
		`recoat_reading_commit_seconds_bucket{le="2.5"} 1`,
		`recoat_reading_commit_seconds_bucket{le="5.0"} 2`,
		`recoat_reading_commit_seconds_count 2`,
		`recoat_reading_commit_seconds_sum 5`,
	} {
		if !strings.Contains(b.String(), line+"\n") {
			t.Errorf("missing: %s", line)
		}
	}
	if t.Failed() {
		t.Log(b.String())
	}
}

// The form is that of the OpenMetrics standard: it ends in EOF, a family's
// lines stand together under its TYPE, counters end in _total, units in names.
func TestTheFormIsTheStandards(t *testing.T) {
	var b strings.Builder
	if err := filled(t).Write(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	if lines[len(lines)-1] != "# EOF" || !strings.HasSuffix(b.String(), "# EOF\n") {
		t.Error("it does not end in EOF")
	}
	sample := regexp.MustCompile(`^([a-zA-Z_:][a-zA-Z0-9_:]*)(\{([a-z_]+="([^"\\\n]|\\["\\n])*",?)+\})? [0-9.e+-]+$`)
	family, kind := "", ""
	seen := map[string]bool{}
	for _, line := range lines[:len(lines)-1] {
		words := strings.SplitN(line, " ", 4)
		switch {
		case strings.HasPrefix(line, "# TYPE "):
			family, kind = words[2], words[3]
			if seen[family] {
				t.Errorf("%s comes twice", family)
			}
			seen[family] = true
		case strings.HasPrefix(line, "# UNIT "):
			if unit := words[3]; !strings.HasSuffix(family, "_"+unit) {
				t.Errorf("%s does not end in its unit %s", family, unit)
			}
		case strings.HasPrefix(line, "# HELP "):
		default:
			m := sample.FindStringSubmatch(line)
			if m == nil {
				t.Errorf("not a sample: %s", line)
				continue
			}
			suffix := strings.TrimPrefix(m[1], family)
			want := map[string][]string{"gauge": {""}, "counter": {"_total"}, "histogram": {"_bucket", "_count", "_sum"}}[kind]
			if !strings.Contains(strings.Join(want, " ")+" ", suffix+" ") {
				t.Errorf("%s in a %s called %s", m[1], kind, family)
			}
		}
	}
}

func get(t *testing.T, s Server, host, path string) (int, string) {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	r.Host = host
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	body, err := io.ReadAll(w.Result().Body)
	if err != nil {
		t.Fatal(err)
	}
	return w.Code, string(body)
}

func TestHealthReadinessAndProfiles(t *testing.T) {
	var not error
	s := Server{Meter: filled(t), Ready: func() error { return not }}
	for path, want := range map[string]string{"/healthz": "ok", "/readyz": "ready", "/metrics": "# EOF", "/debug/pprof/": "goroutine"} {
		if code, body := get(t, s, "127.0.0.1:7424", path); code != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("%s: %d %.100s", path, code, body)
		}
		if code, _ := get(t, s, "stranger.example", path); code != http.StatusMisdirectedRequest {
			t.Errorf("%s by another name: %d", path, code)
		}
	}
	not = errors.New("the rooms are being brought up")
	if code, body := get(t, s, "localhost", "/readyz"); code != http.StatusServiceUnavailable || !strings.Contains(body, "brought up") {
		t.Errorf("not ready: %d %s", code, body)
	}
}

func TestNoOtherMachineIsServed(t *testing.T) {
	l, err := Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	_ = l.Close()
	if _, err := Listen(t.Context(), "0.0.0.0:0"); err == nil || !strings.Contains(err.Error(), "this machine alone") {
		t.Errorf("all addresses: %v", err)
	}
}
