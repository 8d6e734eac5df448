package alert

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

func wish(id string, ahead time.Duration) Wish {
	return Wish{ID: id, Room: "back-room", Coat: "c-0007", Stage: "handle", Ahead: ahead, Made: dusk}
}

func TestAWishWaitsUntilItIsGrantedWithTheDecision(t *testing.T) {
	o := newOutbox(t)
	must(t, o.AddWish(t.Context(), wish("w1", time.Hour)))
	must(t, o.AddWish(t.Context(), wish("w2", time.Hour))) // the same again
	must(t, o.AddWish(t.Context(), Wish{ID: "w3", Room: "back-room", Made: dusk.Add(time.Minute)}))
	got, err := o.Wishes(t.Context())
	must(t, err)
	want := []Wish{wish("w1", time.Hour), {ID: "w3", Room: "back-room", Made: dusk.Add(time.Minute)}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Fatal(diff)
	}
	tr := raised("a", Info, 0)
	tr.Wish = "w1"
	tr.Cause = Untold
	commit(t, o, tr)
	if got, err := o.Wishes(t.Context()); err != nil || len(got) != 2 {
		t.Errorf("a step that tells nothing granted a wish: %v, %v", got, err)
	}
	tr.Cause = First
	commit(t, o, tr, "phone")
	if got, err := o.Wishes(t.Context()); err != nil || len(got) != 1 || got[0].ID != "w3" {
		t.Errorf("%v, %v", got, err)
	}
	if was, err := o.DropWish(t.Context(), "w3"); err != nil || !was {
		t.Errorf("%v, %v", was, err)
	}
	if was, err := o.DropWish(t.Context(), "w1"); err != nil || was {
		t.Errorf("a granted wish was taken back: %v, %v", was, err)
	}
}

func TestWishesAreBounded(t *testing.T) {
	o := newOutbox(t)
	for i := range mostWishes {
		must(t, o.AddWish(t.Context(), wish(fmt.Sprint(i), time.Duration(i)*time.Minute)))
	}
	if err := o.AddWish(t.Context(), wish("more", 20*time.Hour)); !errors.Is(err, ErrTooManyWishes) {
		t.Errorf("%v", err)
	}
	later := wish("later", 20*time.Hour)
	later.Made = dusk.Add(wishLasts + time.Hour)
	must(t, o.AddWish(t.Context(), later))
	for _, w := range []Wish{{}, {ID: "x", Room: "r", Stage: "handle"}, {ID: "x", Room: "r", Coat: "c-0001"}, wish("x", -1), wish("x", 25*time.Hour)} {
		if err := o.AddWish(t.Context(), w); err == nil {
			t.Errorf("%+v was kept", w)
		}
	}
}

// Whoever asked is woken: quiet hours hold back only what nobody asked for.
func TestWhatWasAskedForPassesQuietHours(t *testing.T) {
	r := newRouter(t, RouterConfig{Channels: []string{"phone"}, Quiet: QuietHours{0, 23 * time.Hour}, Zone: time.UTC})
	asked, other := raised("asked", Info, 0), raised("other", Info, 0)
	asked.Wish = "w1"
	expect(t, r.Route(Instant{Wall: time.Date(2031, 3, 4, 3, 0, 0, 0, time.UTC)}, []Transition{asked, other}),
		"phone first waiting asked is bad", "phone first held other is bad")
}

func TestReadyAheadTellsInTime(t *testing.T) {
	now := clockAt(4, 23, 0)
	facts := AheadFacts{OfCoat: OfCoat{Room: "back-room", Coat: "c-0007", Film: press}, Wish: "w1", Ahead: 2 * time.Hour, Now: now}
	facts.Estimate.Stage = 4 // dry to recoat
	for _, c := range []struct {
		likely  time.Duration
		reached bool
		want    Tri
	}{{0, false, Unknown}, {3 * time.Hour, false, False}, {2 * time.Hour, false, True}, {time.Hour, true, False}} {
		facts.Estimate.Reached, facts.Estimate.Likely = c.reached, time.Time{}
		if c.likely > 0 {
			facts.Estimate.Likely = now.Add(c.likely)
		}
		f := ReadyAhead(facts)
		if f.Condition != c.want || f.Wish != "w1" || !f.Once {
			t.Errorf("%v: %+v", c.likely, f)
		}
		if c.want == True && !strings.HasPrefix(f.Title, "Recoat about 01:00: ") {
			t.Errorf("%q", f.Title)
		}
	}
}

func TestSensorsThatAreNotBelieved(t *testing.T) {
	of := OfSensor{OfNode: OfNode{Room: "back-room", Title: "Back room", Node: "bench"}, Channel: "air-humidity", Measures: "air humidity"}
	if f := SensorDoubtful(DoubtFacts{OfSensor: of, Doubtful: True}); f.Severity != Info || f.Title != "Doubtful air humidity, check it: Back room" {
		t.Errorf("%+v", f)
	}
	of.Open = []Film{press}
	if f := SensorDoubtful(DoubtFacts{OfSensor: of, Doubtful: True}); f.Severity != Warning || !strings.Contains(f.Body, press.String()) {
		t.Errorf("%+v", f)
	}
	if f := CheckDue(CheckFacts{OfSensor: of, Due: True}); f.Severity != Info || f.Title != "Due for a check: air humidity: Back room" {
		t.Errorf("%+v", f)
	}
	drift := DriftFacts{OfSensor: of, Twin: "air humidity (probe b)", Limit: 3, Unit: "%"}
	for moved, want := range map[float64]Tri{0: False, 1.7: False, 2.5: Between, 3: True, -3: True} {
		drift.Moved = moved
		if f := Drifting(drift); f.Condition != want {
			t.Errorf("moved %v: %v, want %v", moved, f.Condition, want)
		}
	}
}

func TestAPieceSettlesOnce(t *testing.T) {
	facts := SettleFacts{Room: "back-room", Part: "p-0001/1", Film: press, Air: 20}
	for surface, want := range map[float64]Tri{20: False, 18.5: False, 18: Between, 16: True, 25: True} {
		facts.Surface = sensors.Celsius(surface)
		if f := NotSettled(facts); f.Condition != want || !f.Once {
			t.Errorf("surface %v: %v, want %v", surface, f.Condition, want)
		}
	}
}

func TestAllWellComesDailyAndSaysWhatStands(t *testing.T) {
	due := clockAt(4, 8, 0)
	for late, want := range map[time.Duration]Tri{-time.Minute: Unknown, 0: True, 2 * time.Hour: True, 3 * time.Hour: Unknown} {
		if f := AllWell(AllWellFacts{Due: due, Now: due.Add(late)}); f.Condition != want {
			t.Errorf("%v late: %v, want %v", late, f.Condition, want)
		}
	}
	for standing, want := range map[uint32]string{0: "All well: 2 of 2 nodes heard, 3 coats are drying", 1: "Not all well: one alert stands", 4: "Not all well: 4 alerts stand"} {
		if f := AllWell(AllWellFacts{Due: due, Now: due, Heard: 2, Nodes: 2, Drying: 3, Standing: standing}); f.Title != want {
			t.Errorf("%q, want %q", f.Title, want)
		}
	}
	berlin := zone(t, "Europe/Berlin")
	if got, want := LastDaily(time.Date(2031, 3, 30, 5, 59, 0, 0, time.UTC), 8*time.Hour, berlin), time.Date(2031, 3, 29, 7, 0, 0, 0, time.UTC); !got.Equal(want) {
		t.Errorf("%v, want %v", got.UTC(), want)
	}
}

// Worked by hand: °F = °C · 9/5 + 32, a difference · 9/5.
func TestTextsInFahrenheit(t *testing.T) {
	for in, want := range map[string]string{
		"The surface is at 12.0 °C; the film forms above -5.0 °C.": "The surface is at 53.6 °F; the film forms above 23.0 °F.",
		"a margin of 2.5 ± 0.8 K; at least 3.0 K is needed.":       "a margin of 4.5 ± 1.4 °F; at least 5.4 °F is needed.",
		"The air is 10.0 °C ± 0.5; at least 10.0 °C":               "The air is 50.0 °F ± 0.9; at least 50.0 °F",
		"Relative humidity is 91.0 % ± 4.0":                        "Relative humidity is 91.0 % ± 4.0",
		"4 Kings Road, 12 km":                                      "4 Kings Road, 12 km",
	} {
		if got := InFahrenheit(in); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
