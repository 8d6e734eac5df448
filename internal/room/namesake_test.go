package room

import (
	"slices"
	"testing"
	"time"
)

// say lets a machine of a boot send a round each minute.
func (w *workshop) say(boot string, from, to time.Duration) {
	for d := from; d < to; d += time.Minute {
		r := ours("bench", d, warm(20), damp(50))
		r.Boot = boot
		w.hear(d, r)
	}
}

// Two machines of one name, as of a copied card, are told of once, and that one
// of them has stopped.
func TestTwoMachinesOfOneNameAreToldOf(t *testing.T) {
	w := newRoom()
	w.say("first", 0, 10*time.Minute)
	for d := 10 * time.Minute; d < 30*time.Minute; d += 2 * time.Minute { // they take turns at the broker
		w.say("first", d, d+time.Minute)
		w.say("copy", d+time.Minute, d+2*time.Minute)
	}
	if got := w.heard("namesake"); !slices.Equal(got, []string{"namesake bench first"}) {
		t.Errorf("told %v", got)
	}
	w.say("first", 30*time.Minute, 2*time.Hour)
	if got := w.heard("namesake"); len(got) != 2 || got[1] != "namesake bench cleared" {
		t.Errorf("told %v", got)
	}
}

// A machine that starts anew, again and again, is one, also where what it had
// kept of its old boot comes after the first rounds of the new one.
func TestAMachineThatStartsAnewIsOne(t *testing.T) {
	w := newRoom()
	for n, boot := range []string{"a", "b", "c", "d"} {
		d := time.Duration(n) * 6 * time.Minute
		w.say(boot, d, d+5*time.Minute)
		kept := ours("bench", d+4*time.Minute+30*time.Second, warm(20), damp(50))
		kept.Boot = boot
		next := ours("bench", d+6*time.Minute, warm(20), damp(50))
		next.Boot = string(rune('b' + n))
		w.hear(d+6*time.Minute, next)
		w.hear(d+6*time.Minute+time.Second, kept)
	}
	if got := w.heard("namesake"); len(got) != 0 {
		t.Errorf("told %v", got)
	}
}

// A backlog of another boot, and a clock that nobody set, show nothing.
func TestABacklogIsNoSecondMachine(t *testing.T) {
	w := newRoom()
	for d := time.Duration(0); d < 40*time.Minute; d += time.Minute {
		live := ours("bench", d, warm(20), damp(50))
		late := ours("bench", d-6*time.Hour, warm(20), damp(50))
		unset := ours("bench", d, warm(20), damp(50))
		late.Boot, unset.Boot, unset.ClockSet = "before", "unset", false
		w.hear(d, late)
		w.hear(d, unset)
		w.hear(d, live)
	}
	if got := w.heard("namesake"); len(got) != 0 {
		t.Errorf("told %v", got)
	}
}
