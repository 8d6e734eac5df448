package room

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// At the label's own conditions, surface included, the label's own time is the
// check: dry to recoat after two hours. Rounds come once a minute.
func TestReadyIsToldOnceAndAtTheLabelsTime(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	var when time.Duration
	for d := time.Duration(0); d < 5*time.Hour; d += time.Minute {
		w.hear(d, ours("bench", d, warm(23), damp(50)))
		if len(w.told) > 0 && when == 0 {
			when = d
		}
	}
	if diff := cmp.Diff([]string{"ready c-0001/dry-to-recoat first"}, w.told); diff != "" {
		t.Error(diff)
	}
	if when < 2*time.Hour || when > 2*time.Hour+time.Minute {
		t.Errorf("told after %s", when)
	}
	if e := w.estimate(t, "c-0001", drying.DryToRecoat); !e.Reached || e.Likely.Sub(evening).Round(time.Second) != 2*time.Hour {
		t.Errorf("%+v", e)
	}
	// The next run of the hub: the engine resumes, the store gives the history.
	var episodes []alert.Episode
	for _, tr := range w.all {
		episodes = append(episodes, tr.Episode)
	}
	again := newRoom(episodes...)
	again.follow(job(t, "c-0001", 0, ""))
	for d := time.Duration(0); d < 5*time.Hour; d += time.Minute {
		again.do(Recalled{ours("bench", d, warm(23), damp(50))})
	}
	again.tick(5 * time.Hour)
	again.minutely(5*time.Hour, 6*time.Hour, warm(23), damp(50))
	if len(again.told) != 0 {
		t.Errorf("after a restart it is told again: %v", again.told)
	}
	if e := again.estimate(t, "c-0001", drying.DryToRecoat); !e.Reached {
		t.Error("after a restart the coat is not ready any more")
	}
}

func TestAnUnfitRoomIsToldOfOnlyWhileAFilmIsOpen(t *testing.T) {
	empty := newRoom()
	empty.minutely(0, time.Hour, warm(20), damp(95))
	if s := empty.Snapshot(); s.Verdict.State != drying.Unfit || len(empty.told) != 0 {
		t.Errorf("an empty room is %v, and is told of: %v", s.Verdict.State, empty.told)
	}
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	w.minutely(0, 20*time.Minute, warm(23), damp(50))
	w.minutely(20*time.Minute, 40*time.Minute, warm(20), damp(95))
	if diff := cmp.Diff([]string{"unfit  first"}, w.told); diff != "" {
		t.Fatal(diff)
	}
	if s := w.Snapshot(); len(s.Alerts) != 1 || s.Alerts[0].State != alert.Raised {
		t.Errorf("the page shows %+v", s.Alerts)
	}
	w.minutely(40*time.Minute, 80*time.Minute, warm(23), damp(50))
	if diff := cmp.Diff([]string{"unfit  first", "unfit  cleared"}, w.told[:2]); diff != "" {
		t.Error(diff)
	}
	if s := w.Snapshot(); len(s.Alerts) != 0 {
		t.Errorf("over, and still shown: %+v", s.Alerts)
	}
	// Hours later the film is closed: the same damp is nobody's business now.
	w.minutely(80*time.Minute, 4*time.Hour, warm(23), damp(50))
	before := len(w.heard("unfit"))
	w.minutely(4*time.Hour, 5*time.Hour, warm(20), damp(95))
	if got := w.heard("unfit"); len(got) != before {
		t.Errorf("with the film closed: %v", got)
	}
}

// The part that is watched is judged at its own surface; a part whose probe is
// silent at the coldest that is known.
func TestUnfitIsJudgedWhereTheFilmIs(t *testing.T) {
	for name, c := range map[string]struct {
		probe string
		told  bool
	}{
		"own warm surface":    {"warm", false},
		"own cold surface":    {"cold", true},
		"a silent probe":      {"gone", true},
		"no probe of its own": {"", true},
	} {
		w := newRoom()
		w.do(Described{Title: "Back room", Limits: drying.Limits{AirMin: -20, AirMax: 60, HumidityMax: 100, DewMarginMin: 0.1}})
		w.follow(job(t, "c-0001", 0, c.probe))
		w.minutely(0, 15*time.Minute, warm(20), damp(50), surfaceAt("warm", 19), surfaceAt("cold", 10.5))
		if got := len(w.told) > 0; got != c.told {
			t.Errorf("%s: told %v", name, w.told)
		}
	}
}

func TestASilentNodeIsToldOfAndItsReturn(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("bench", 0, warm(20), damp(50)))
	for d := time.Minute; d <= 20*time.Minute; d += time.Minute {
		w.tick(d)
	}
	if diff := cmp.Diff([]string{"silent bench first"}, w.told); diff != "" {
		t.Fatal(diff)
	}
	if n := w.Snapshot().Nodes; len(n) != 1 || !n[0].Silent || !n[0].Heard.Equal(evening) {
		t.Errorf("%+v", n)
	}
	// What comes back first is backlog: the node is heard all the same.
	w.hear(21*time.Minute, ours("bench", time.Minute, warm(20), damp(50)))
	w.tick(22 * time.Minute)
	if diff := cmp.Diff([]string{"silent bench first", "silent bench cleared"}, w.told); diff != "" {
		t.Error(diff)
	}
}

func TestANodeThatStaysAwayAfterARestartIsMissed(t *testing.T) {
	for name, c := range map[string]struct {
		ago  time.Duration
		want []string
	}{
		"heard an hour before": {time.Hour, []string{"silent bench first"}},
		"gone for days":        {50 * time.Hour, nil},
	} {
		w := newRoom()
		w.do(Recalled{ours("bench", -c.ago, warm(20), damp(50))})
		for d := time.Duration(0); d <= 20*time.Minute; d += time.Minute {
			w.tick(d)
		}
		if diff := cmp.Diff(c.want, w.told); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
		if n := w.Snapshot().Nodes; len(n) != len(c.want) {
			t.Errorf("%s: the nodes are %+v", name, n)
		}
	}
}

func TestAMuteSensorIsToldOfAndIsNotKnownWhileItsNodeIsSilent(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, "p1"))
	w.minutely(0, 10*time.Minute, warm(20), damp(50), surfaceAt("p1", 18))
	w.minutely(10*time.Minute, 30*time.Minute, warm(20), damp(50), as(sensors.Missing, surfaceAt("p1", 0)))
	if diff := cmp.Diff([]string{"mute bench/surface-temperature:p1 first"}, w.told); diff != "" {
		t.Fatal(diff)
	}
	for d := 30 * time.Minute; d < time.Hour; d += time.Minute {
		w.tick(d) // the node is silent: what its sensors do is not known
	}
	if diff := cmp.Diff([]string{"mute bench/surface-temperature:p1 first"}, w.heard("mute")); diff != "" {
		t.Error(diff)
	}
	w.minutely(time.Hour, 70*time.Minute, warm(20), damp(50), surfaceAt("p1", 18))
	if diff := cmp.Diff([]string{"mute bench/surface-temperature:p1 first", "mute bench/surface-temperature:p1 cleared"}, w.heard("mute")); diff != "" {
		t.Error(diff)
	}
}

func TestASensorThatNeverGaveAnythingIsMute(t *testing.T) {
	w := newRoom()
	w.minutely(0, 4*time.Minute, warm(20), as(sensors.Missing, damp(0)))
	if len(w.told) != 0 {
		t.Errorf("after four minutes: %v", w.told)
	}
	w.minutely(4*time.Minute, 10*time.Minute, warm(20), as(sensors.Missing, damp(0)))
	if diff := cmp.Diff([]string{"mute bench/relative-humidity first"}, w.told); diff != "" {
		t.Error(diff)
	}
}

func TestACoatThatIsFollowedNoMoreIsNotSpokenOf(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""), job(t, "c-0002", 0, ""))
	w.minutely(0, 3*time.Hour, warm(23), damp(50))
	if n := len(w.Snapshot().Alerts); n != 2 {
		t.Fatalf("%d alerts, want one for each coat", n)
	}
	w.follow(job(t, "c-0002", 0, "")) // another coat lies on the first by now
	s := w.Snapshot()
	if len(s.Alerts) != 1 || s.Alerts[0].Key.Subject != "c-0002/dry-to-recoat" || len(s.Coats) != 1 {
		t.Errorf("%+v", s.Alerts)
	}
	if last := w.all[len(w.all)-1]; last.Cause != alert.Untold || last.Episode.State != alert.Cleared || last.Episode.Key.Subject != "c-0001/dry-to-recoat" {
		t.Errorf("it ended with %+v", last)
	}
	w.follow(job(t, "c-0001", 0, ""), job(t, "c-0002", 0, ""))
	w.minutely(3*time.Hour, 4*time.Hour, warm(23), damp(50))
	if got := w.heard("ready"); len(got) != 2 {
		t.Errorf("an undone change told again: %v", got)
	}
}

func TestAnAlertThatWasSeenIsShownAsSeen(t *testing.T) {
	w := newRoom()
	w.hear(0, ours("bench", 0, warm(20), damp(50)))
	for d := time.Minute; d <= 20*time.Minute; d += time.Minute {
		w.tick(d)
	}
	id := w.Snapshot().Alerts[0].ID
	w.do(Seen{At: at(20 * time.Minute), Episode: "another room's"})
	w.do(Seen{At: at(20 * time.Minute), Episode: id})
	if got := w.Snapshot().Alerts; len(got) != 1 || got[0].State != alert.Acknowledged {
		t.Errorf("%+v", got)
	}
}

func TestARoomIsCalledAsTheJournalHasIt(t *testing.T) {
	w := newRoom()
	w.minutely(0, 3*time.Minute, warm(20), damp(50))
	w.do(Described{Title: "Loft", Limits: drying.Limits{AirMin: 22, AirMax: 30, HumidityMax: 80, DewMarginMin: 5}})
	w.tick(3 * time.Minute)
	if s := w.Snapshot(); s.Title != "Loft" || s.Verdict.State != drying.Unfit || s.Limit != 5 {
		t.Errorf("%s, %v, %v", s.Title, s.Verdict, s.Limit)
	}
	w.do(Described{Title: "Loft"})
	w.tick(4 * time.Minute)
	if s := w.Snapshot(); s.Verdict.State != drying.Fit {
		t.Errorf("without limits of its own: %v", s.Verdict)
	}
}
