package alert

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var dusk = time.Date(2031, 3, 4, 21, 40, 0, 0, time.UTC)

func at(mono time.Duration) Instant { return Instant{Wall: dusk.Add(mono), Mono: mono} }

// counter gives episodes the IDs e1, e2, …
func counter() func() string {
	n := 0
	return func() string { n++; return fmt.Sprintf("e%d", n) }
}

func newEngine(resume ...Episode) *Engine {
	return NewEngine(EngineConfig{NewID: counter(), Resume: resume})
}

var margin = Key{Rule: "margin", Room: "back-room"}

// finding is about the dew margin, told when it begins and when it ends.
func finding(condition Tri) Finding {
	return Finding{
		Key: margin, Condition: condition, Severity: Warning,
		Title: "margin " + condition.String(), Body: "in words",
		Hold: 5 * time.Minute, Clear: 10 * time.Minute,
	}
}

// steps feeds one finding a minute, written as letters (T, F, U, and - for not
// reported), and returns "minute state cause" of each transition.
func steps(e *Engine, from int, conditions string, f Finding) []string {
	var got []string
	for i, c := range conditions {
		var findings []Finding
		switch f.Condition = map[rune]Tri{'T': True, 'F': False, 'B': Between}[c]; c {
		case '-':
		default:
			findings = []Finding{f}
		}
		for _, t := range e.Step(at(time.Duration(from+i)*time.Minute), findings) {
			got = append(got, fmt.Sprintf("%d %s→%s %s", from+i, t.From, t.Episode.State, t.Cause))
		}
	}
	return got
}

func TestEngineHoldsAndClearsInCoveredTime(t *testing.T) {
	const begun = "0 pending→pending untold"
	for name, c := range map[string]struct {
		conditions string
		want       []string
	}{
		"raised after the hold":                {"TTTTTT", []string{begun, "5 pending→raised first"}},
		"not a minute sooner":                  {"TTTTT", []string{begun}},
		"lapses when false before the hold":    {"TTTTFT", []string{begun, "4 pending→cleared untold", "5 pending→pending untold"}},
		"unknown stops the hold":               {"TTTUUUTTTT", []string{begun, "9 pending→raised first"}},
		"unreported stops the hold":            {"TTT---TTT", []string{begun}},
		"unknown alone begins nothing":         {"UUUUUUU", nil},
		"false alone begins nothing":           {"FFFFFFF", nil},
		"cleared after the clear time":         {"TTTTTTFFFFFFFFFFF", []string{begun, "5 pending→raised first", "16 raised→cleared cleared"}},
		"one true minute restarts the clear":   {"TTTTTTFFFFFFFFFTFFFFFFFFFF", []string{begun, "5 pending→raised first"}},
		"unknown stops the clear":              {"TTTTTTFFFFFFFUUUUUUUUUUU", []string{begun, "5 pending→raised first"}},
		"unknown for long clears nothing":      {"TTTTTT" + "UUUUUUUUUUUUUUUUUUUUUUUUUUUUUU", []string{begun, "5 pending→raised first"}},
		"unreported for long clears nothing":   {"TTTTTT" + "------------------------------", []string{begun, "5 pending→raised first"}},
		"a false beside an unknown is no span": {"TTTTTTFUFUFUFUFUFUFUFUFUFUFUFU", []string{begun, "5 pending→raised first"}},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, steps(newEngine(), 0, c.conditions, finding(True))); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestEngineDoesNotCountASpanNobodyWatched(t *testing.T) {
	e := newEngine()
	e.Step(at(0), []Finding{finding(True)})
	if got := e.Step(at(8*time.Hour), []Finding{finding(True)}); len(got) != 0 {
		t.Fatalf("eight unwatched hours counted as held: %+v", got)
	}
	if got := e.Step(at(8*time.Hour+5*time.Minute), []Finding{finding(True)}); len(got) != 1 {
		t.Fatalf("five watched minutes did not: %+v", got)
	}
}

func TestEngineTellsWhatAndHowItEnded(t *testing.T) {
	e := newEngine()
	f := finding(True)
	f.Hold, f.Clear = 0, 0
	got := e.Step(at(0), []Finding{f})
	f.Condition, f.Title, f.Body = False, "over", "it ended"
	got = append(got, e.Step(at(time.Minute), []Finding{f})...)
	raised := Episode{ID: "e1", Key: margin, State: Raised, Severity: Warning, Title: "margin true", Body: "in words",
		Since: dusk, RaisedAt: dusk, Told: 1}
	cleared := raised
	cleared.State, cleared.Told, cleared.EndedAt = Cleared, 2, dusk.Add(time.Minute)
	want := []Transition{
		{Episode: raised, From: Pending, Cause: First, Title: "margin true", Body: "in words", At: dusk},
		{Episode: cleared, From: Raised, Cause: Ended, Title: "over", Body: "it ended", At: dusk.Add(time.Minute)},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if len(e.Episodes()) != 0 {
		t.Errorf("still kept: %+v", e.Episodes())
	}
}

func TestEngineSaysNothingOfAnUntitledEnd(t *testing.T) {
	e := newEngine()
	f := finding(True)
	f.Hold, f.Clear = 0, 0
	e.Step(at(0), []Finding{f})
	f.Condition, f.Title = False, ""
	got := e.Step(at(time.Minute), []Finding{f})
	if len(got) != 1 || got[0].Cause != Untold || got[0].Episode.State != Cleared {
		t.Fatalf("%+v", got)
	}
}

func TestADayOfNoiseAtTheThresholdIsOneMessage(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	noise := rand.New(rand.NewPCG(seed, 1))
	h := Hysteresis{Set: 3, Clear: 3.5} // kelvins of dew margin
	e := newEngine()
	told := 0
	for s := time.Duration(0); s < 24*time.Hour; s += 10 * time.Second {
		// A sensor's noise, 0.1 K, about the threshold itself.
		f := finding(h.Judge(margin, 3+0.1*noise.NormFloat64()))
		told += len(Compose(e.Step(at(s), []Finding{f}), []string{"phone"}))
	}
	if told != 1 {
		t.Errorf("%d messages, want one", told)
	}
}

// Without hysteresis the hold and clear times alone must keep the peace.
func TestADayOfBareNoiseIsAtMostOneMessage(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	noise := rand.New(rand.NewPCG(seed, 2))
	e := newEngine()
	told := 0
	for s := time.Duration(0); s < 24*time.Hour; s += 10 * time.Second {
		told += len(Compose(e.Step(at(s), []Finding{finding(Truth(noise.NormFloat64() < 0))}), []string{"phone"}))
	}
	if told > 1 {
		t.Errorf("%d messages, want one at most", told)
	}
}

func TestAWallClockStepRepeatsAndClearsNothing(t *testing.T) {
	for _, step := range []time.Duration{24 * time.Hour, -24 * time.Hour} {
		e := newEngine()
		f := finding(True)
		f.Repeat = time.Hour
		steps(e, 0, "TTTTTT", f)
		off := func(m int) Instant {
			i := at(time.Duration(m) * time.Minute)
			i.Wall = i.Wall.Add(step)
			return i
		}
		for m := 6; m < 60; m++ {
			if got := e.Step(off(m), []Finding{f}); len(got) != 0 {
				t.Errorf("step %v, minute %d: %+v", step, m, got)
			}
		}
		f.Condition = False
		for m := 60; m < 70; m++ {
			if got := e.Step(off(m), []Finding{f}); len(got) != 0 {
				t.Errorf("step %v, minute %d: %+v", step, m, got)
			}
		}
		if got := e.Step(off(70), []Finding{f}); len(got) != 1 || got[0].Cause != Ended {
			t.Errorf("step %v: not cleared after its ten minutes: %+v", step, got)
		}
	}
}

func TestEngineRepeatsUntilAcknowledged(t *testing.T) {
	e := newEngine()
	f := finding(True)
	f.Hold, f.Repeat = 0, 3*time.Minute
	want := []string{"0 pending→raised first", "3 raised→raised repeat", "6 raised→raised repeat"}
	if diff := cmp.Diff(want, steps(e, 0, "TTTTTTTT", f)); diff != "" {
		t.Error(diff)
	}
	if _, ok := e.Acknowledge("e2", at(8*time.Minute)); ok {
		t.Error("acknowledged what does not exist")
	}
	if got, ok := e.Acknowledge("e1", at(8*time.Minute)); !ok || got.Episode.State != Acknowledged || got.Cause != Untold {
		t.Errorf("acknowledge: %+v %v", got, ok)
	}
	if _, ok := e.Acknowledge("e1", at(8*time.Minute)); ok {
		t.Error("acknowledged twice")
	}
	if got := steps(e, 9, "TTTTTTTT", f); got != nil {
		t.Errorf("repeated after it was acknowledged: %v", got)
	}
	f.Severity = Critical
	if diff := cmp.Diff([]string{"17 acknowledged→raised repeat"}, steps(e, 17, "T", f)); diff != "" {
		t.Errorf("it got worse: %s", diff)
	}
	f.Severity = Warning
	e.Acknowledge("e1", at(18*time.Minute))
	if got := steps(e, 18, "TTTT", f); got != nil {
		t.Errorf("it got better: %v", got)
	}
	f.Severity = Critical
	if got := steps(e, 22, "TTTT", f); got != nil {
		t.Errorf("as bad as it was before: %v", got)
	}
}

func TestOnceIsOnceForEver(t *testing.T) {
	e := newEngine()
	f := Finding{Key: Key{"ready", "back-room", "c-0007/dry-to-recoat"}, Title: "ready", Once: true}
	if diff := cmp.Diff([]string{"0 pending→raised first", "2 raised→cleared cleared"}, steps(e, 0, "TTFTTFT", f)); diff != "" {
		t.Error(diff)
	}
	if _, ok := e.Retire(f.Key, at(time.Hour)); ok {
		t.Error("ended twice")
	}
	resumed := newEngine(e.Episodes()...)
	if got := steps(resumed, 100, "TTTTFFTT", f); got != nil {
		t.Errorf("told again after a restart: %v", got)
	}
}

func TestRetireEndsUntold(t *testing.T) {
	e := newEngine()
	steps(e, 0, "TTTTTT", finding(True))
	got, ok := e.Retire(margin, at(6*time.Minute))
	if !ok || got.Cause != Untold || got.Episode.State != Cleared || !got.Episode.EndedAt.Equal(dusk.Add(6*time.Minute)) {
		t.Errorf("%+v %v", got, ok)
	}
	if _, ok := e.Retire(margin, at(7*time.Minute)); ok {
		t.Error("retired twice")
	}
	if got := steps(e, 8, "T", finding(True)); len(got) != 1 {
		t.Errorf("the key does not begin anew: %v", got)
	}
}

func TestARestartResumes(t *testing.T) {
	other := finding(True)
	other.Key = Key{Rule: "silent", Room: "back-room", Subject: "node-1"}
	e := newEngine()
	steps(e, 0, "TTTTTT", finding(True)) // raised
	steps(e, 6, "TTTT", other)           // pending, three minutes held
	resumed := newEngine(e.Episodes()...)
	if got := steps(resumed, 0, "TTTTTTTTTTTTTTTTTTTTTTTT", finding(True)); got != nil {
		t.Errorf("raised twice: %v", got)
	}
	if diff := cmp.Diff([]string{"35 pending→raised first"}, steps(resumed, 30, "TTTTTTTT", other)); diff != "" {
		t.Errorf("the hold did not start over: %s", diff)
	}
	got := steps(resumed, 40, "FFFFFFFFFFFF", finding(False))
	if diff := cmp.Diff([]string{"50 raised→cleared cleared"}, got); diff != "" {
		t.Error(diff)
	}
}

func TestStepsKeepTheOrderOfTheFindings(t *testing.T) {
	e := newEngine()
	var findings []Finding
	for i := range 20 {
		f := finding(True)
		f.Hold, f.Key.Subject = 0, fmt.Sprint(19-i)
		findings = append(findings, f)
	}
	for i, tr := range e.Step(at(0), findings) {
		if tr.Episode.Key != findings[i].Key {
			t.Fatalf("place %d holds %v", i, tr.Episode.Key)
		}
	}
}

func TestHysteresis(t *testing.T) {
	low, high := Hysteresis{Set: 3, Clear: 3.5}, Hysteresis{Set: 85, Clear: 82}
	for i, c := range []struct {
		h     *Hysteresis
		value float64
		want  Tri
	}{
		{&low, 3.2, Unknown}, // between, and nothing before it
		{&low, 3.6, False}, {&low, 3.2, False}, {&low, 3, True}, {&low, 3.4, True},
		{&low, math.NaN(), Unknown}, {&low, 3.4, True}, {&low, math.Inf(-1), True}, {&low, 3.5, False},
		{&high, 84, Unknown}, {&high, 85, True}, {&high, 83, True}, {&high, 82, False}, {&high, 84.9, False},
	} {
		if got := c.h.Judge(margin, c.value); got != c.want {
			t.Errorf("%d: %g is %v, want %v", i, c.value, got, c.want)
		}
	}
	other := margin
	other.Room = "front-room"
	if got := low.Judge(other, 3.2); got != Unknown {
		t.Errorf("one room's memory answers for another: %v", got)
	}
	low.Forget(margin)
	if got := low.Judge(margin, 3.2); got != Unknown {
		t.Errorf("not forgotten: %v", got)
	}
}
