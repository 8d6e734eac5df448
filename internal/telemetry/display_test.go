package telemetry

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func shown() Display {
	margin := 3.4
	shop := time.FixedZone("", 3600)
	return Display{
		At: received.In(shop).Truncate(time.Second), Verdict: "caution", Margin: &margin, Alerts: 1,
		Next: &Next{What: "Linen press, doors", Stage: "dry-to-recoat", At: received.Add(7 * time.Hour).In(shop).Truncate(time.Second)},
	}
}

func TestADisplayIsToldWhatTheHubSaid(t *testing.T) {
	want := shown()
	payload, err := want.Encode()
	if err != nil {
		t.Fatal(err)
	}
	got, err := DecodeDisplay(payload)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if _, offset := got.Next.At.Zone(); offset != 3600 {
		t.Errorf("the shop's hour is lost: %s", got.Next.At)
	}
}

func TestLongAndOddNamesAreCutForADisplay(t *testing.T) {
	d := shown()
	d.Next.What = "\x1b[2J" + strings.Repeat("ü", 300)
	d.Alerts = 5000
	payload, err := d.Encode()
	if err != nil {
		t.Fatal(err)
	}
	got, err := DecodeDisplay(payload)
	if err != nil || got.Next.What != "[2J"+strings.Repeat("ü", 57) || got.Alerts != 999 {
		t.Errorf("%+v, %v", got.Next, err)
	}
	for name, spoil := range map[string]func(*Display){
		"verdict":  func(d *Display) { d.Verdict = "good" },
		"infinity": func(d *Display) { *d.Margin = math.Inf(1) },
		"margin":   func(d *Display) { *d.Margin = 101 },
		"stage":    func(d *Display) { d.Next.Stage = "" },
		"date":     func(d *Display) { d.Next.At = time.Unix(0, 0) },
		"alerts":   func(d *Display) { d.Alerts = -1 },
	} {
		d := shown()
		spoil(&d)
		if _, err := d.Encode(); err == nil {
			t.Errorf("%s: it is told", name)
		}
	}
}

func TestWhatADisplayIsNotToldIsRefused(t *testing.T) {
	good, err := shown().Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{
		{`"alerts":1`, `"alerts":1,"more":2`}, {`"caution"`, `"calm"`}, {`3.4`, `1e400`}, {`3.4`, `101`}, {`"alerts":1`, `"alerts":-1`},
		{`doors"`, `doors\u0007"`}, {`"dry-to-recoat"`, `""`}, {`"Linen`, `"` + strings.Repeat("x", 80)}, {`"Linen`, `"` + strings.Repeat("x", 2000)},
		{`2026-`, `1970-`}, {`}`, `}}`},
	} {
		bad := strings.Replace(string(good), c[0], c[1], 1)
		if bad == string(good) {
			t.Fatalf("%q is not in %s", c[0], good)
		}
		if d, err := DecodeDisplay([]byte(bad)); err == nil {
			t.Errorf("%s is read as %+v", bad, d)
		}
	}
}

// Through a real broker and its access list, also for a display that comes later.
func TestADisplayHearsTheHubAlsoWhenItComesLater(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	told, heard := make(chan Told, 1), make(chan Display, 4)
	start(t, Teller{Link: link(at, "hub", "alder"), Next: told, Log: logged(t)}.Run)
	want := shown()
	for came := false; !came; { // until its connection is up nothing is sent
		told <- Told{"back-room", want}
		came = hears(t, at, heard, 500*time.Millisecond, want)
	}
	if !hears(t, at, heard, patience, want) {
		t.Error("a display that came later heard nothing")
	}
}

// hears starts a display and reports whether it heard the same within so long.
func hears(t *testing.T, at string, heard chan Display, within time.Duration, want Display) bool {
	t.Helper()
	stop := start(t, Onlooker{Link: link(at, "agent", "birch"), Room: "back-room", Node: "bench", Log: logged(t), Now: time.Now, Show: func(d Display, age time.Duration) {
		if age > 0 && age < 24*time.Hour {
			t.Errorf("what was said on %s is %s old", d.At, age)
		}
		heard <- d
	}}.Run)
	defer stop()
	select {
	case got := <-heard:
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
		return true
	case <-time.After(within):
		return false
	}
}
