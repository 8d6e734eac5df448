package room

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/sensors"
)

// slow is a round of a node whose clock nobody set, and which is so far behind.
func slow(seq uint64, d, behind time.Duration, readings ...sensors.Reading) sensors.Round {
	r := ours("bench", d, readings...)
	r.Seq, r.ClockSet, r.Time = seq, false, r.Time.Add(-behind)
	return r
}

func TestAClockThatNobodySetDatesARoundOnlyIfItAgrees(t *testing.T) {
	for name, c := range map[string]struct {
		behind time.Duration
		dated  bool
	}{
		"agrees":           {0, true},
		"nearly agrees":    {9 * time.Minute, true},
		"a little ahead":   {-9 * time.Minute, true},
		"too far behind":   {11 * time.Minute, false},
		"too far ahead":    {-11 * time.Minute, false},
		"of the year 1970": {evening.Sub(time.Unix(3600, 0)), false},
	} {
		t.Run(name, func(t *testing.T) {
			w := newRoom()
			w.follow(job(t, "c-0001", 0, ""))
			for i := range 30 {
				d := time.Duration(i) * time.Minute
				r := slow(uint64(i)+1, d, c.behind, warm(20), damp(50))
				kept := w.Kept(Arrived{at(d), r})
				if kept.ClockSet != c.dated || !kept.Time.Equal(r.Time) {
					t.Fatalf("round %d is stored as %+v", r.Seq, kept)
				}
				w.hear(d, r)
			}
			w.tick(30 * time.Minute)
			s := w.Snapshot()
			if s.Air == nil || s.Air.Air != 20 {
				t.Fatalf("the present is %+v, whatever the node's clock says", s.Air)
			}
			if !c.dated && !s.Air.ReadAt.Equal(evening.Add(29*time.Minute)) {
				t.Errorf("read at %s by a clock that is not believed", s.Air.ReadAt)
			}
			if done := w.estimate(t, "c-0001", drying.SetToTouch).Done; (done > 0) != c.dated {
				t.Errorf("the coat is %.2f of the way", done)
			}
			if n := len(w.history.slots); (n > 0) != c.dated {
				t.Errorf("%d minutes of history", n)
			}
		})
	}
}

// Only the store knows of the rounds after a restart, and there those that were
// not believed are still not set.
func TestAnUndatedRoundFromTheStoreIsNoHistory(t *testing.T) {
	w := newRoom()
	r := slow(1, 0, 3*time.Hour, warm(20), damp(50))
	w.do(Recalled{r})
	if n := len(w.history.slots); n != 0 {
		t.Errorf("%d minutes of history", n)
	}
	r.Boot = "" // a foreign device has no other clock
	w.do(Recalled{r})
	if n := len(w.history.slots); n != 1 {
		t.Errorf("%d minutes of a foreign device's history", n)
	}
}

func TestAnOldCopyDoesNotBringBackAWrongTime(t *testing.T) {
	w := newRoom()
	w.hear(time.Minute, ours("bench", time.Minute, warm(20), damp(50))) // set by now
	copied := slow(1, 0, 8*time.Minute, warm(5), damp(90))
	if w.Kept(Arrived{at(time.Minute), copied}).ClockSet {
		t.Error("a copy with its time of before the clock was set would replace the corrected one")
	}
	w.hear(time.Minute, copied)
	if n := len(w.history.slots); n != 1 {
		t.Errorf("%d minutes of history", n)
	}
}

// The node's clock is eight minutes behind when its coat is begun, and is set an
// hour later; its spool then sends the rounds of that hour again.
func TestAClockSetLaterEndsAsIfItHadBeenRight(t *testing.T) {
	const behind, set, end = 8 * time.Minute, time.Hour, 90 * time.Minute
	changing := func(i int) []sensors.Reading {
		return []sensors.Reading{warm(18 + float64(i%7)), damp(40 + float64(i%11)), surfaceAt("p1", 17)}
	}
	right, wrong := newRoom(), newRoom()
	kept := map[uint64]sensors.Round{}
	for _, w := range []*workshop{right, wrong} {
		w.follow(job(t, "c-0001", 0, "p1"))
	}
	hear := func(d time.Duration, r sensors.Round) {
		kept[r.Seq] = wrong.Kept(Arrived{at(d), r})
		wrong.hear(d, r)
	}
	for i := range 60 {
		d := time.Duration(i) * time.Minute
		hear(d, slow(uint64(i)+1, d, behind, changing(i)...))
		right.hear(d, ours("bench", d, changing(i)...))
	}
	for i := range 60 {
		r := slow(uint64(i)+1, time.Duration(i)*time.Minute, 0, changing(i)...)
		r.ClockSet = true
		hear(set+time.Duration(i)*time.Second, r)
		wrong.tick(set + time.Duration(i)*time.Second)
	}
	if wrong.asks != 0 {
		t.Errorf("the history is to be read %d times while corrections still come", wrong.asks)
	}
	for d := set + time.Minute; d < end; d += time.Minute {
		r := ours("bench", d, changing(int(d/time.Minute))...)
		hear(d, r)
		right.hear(d, r)
		wrong.tick(d)
	}
	if wrong.asks != 1 {
		t.Fatalf("the history is to be read %d times, want once", wrong.asks)
	}
	wrong.Forget()
	for _, r := range kept {
		wrong.do(Recalled{r})
	}
	right.tick(end)
	wrong.tick(end)
	if diff := cmp.Diff(right.Snapshot(), wrong.Snapshot(), but); diff != "" {
		t.Error(diff)
	}
}

func TestASlowClockIsNotABacklog(t *testing.T) {
	w := newRoom()
	for i := range 20 {
		d := time.Duration(i) * time.Minute
		w.hear(d, slow(uint64(i)+1, d, 9*time.Minute, warm(20), damp(50)))
	}
	if w.Snapshot().Air == nil {
		t.Error("a clock nine minutes behind makes every round one of the past")
	}
}

func TestASecondBootMustAgreeForItself(t *testing.T) {
	w := newRoom()
	w.hear(0, slow(1, 0, 0, warm(20), damp(50)))
	r := slow(1, time.Minute, 2*time.Hour, warm(20), damp(50))
	r.Boot = "b2"
	if w.Kept(Arrived{at(time.Minute), r}).ClockSet {
		t.Error("the clock of another boot is believed for what an earlier one said")
	}
}
