package hub

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
)

func TestOfTwoVersionsInHandTheBetterDatedCounts(t *testing.T) {
	var o owned
	unset, set, later := round(1, 20, 50), round(1, 20, 50), round(1, 20, 50)
	unset.ClockSet = false
	later.Time = set.Time.Add(time.Minute)
	for _, r := range []sensors.Round{set, unset, later, unset} {
		o.remember(stored{round: r, done: new(atomic.Bool)})
	}
	o.remember(stored{round: func() sensors.Round { r := unset; r.Seq = 2; return r }(), done: new(atomic.Bool)})
	if got := o.newest(); len(got) != 1 || !got[identityOf(set)].Time.Equal(later.Time) {
		t.Errorf("%+v", got)
	}
	o.forgetUntil(time.Second)
	if len(o.recent) != 0 {
		t.Errorf("%+v", o.recent)
	}
}

// However many rounds come, only those are kept in hand that are not stored.
func TestWhatIsStoredIsNotKeptInHand(t *testing.T) {
	var o owned
	waiting := map[uint64]bool{}
	for seq := range uint64(20000) {
		s := stored{round: round(seq, 20, 50), done: new(atomic.Bool)}
		if s.done.Store(seq%100 != 7); !s.done.Load() {
			waiting[seq] = true
		}
		o.remember(s)
		if len(o.recent) > fewInHand+1 {
			t.Fatalf("%d in hand, %d of them not stored", len(o.recent), len(waiting))
		}
	}
	for _, s := range o.recent {
		delete(waiting, s.round.Seq)
	}
	if len(waiting) > 0 {
		t.Errorf("%v are not stored and no longer in hand", waiting)
	}
}

// Whoever finds no slot waits for one that is given back, once, and gives up where
// that does not come or is of no use.
func TestASlotIsWaitedFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := make(slots, 1)
		var told atomic.Int64
		if !s.take(false) {
			t.Fatal("an empty one has no room")
		}
		d, _ := s.hold(telemetry.Delivery{Stored: func() { told.Add(1) }})
		began := time.Now()
		if s.take(true) || time.Since(began) != 0 {
			t.Error("it waited although the store fails")
		}
		if s.take(false) || time.Since(began) != slotWait {
			t.Errorf("it took a slot that is taken, after %v", time.Since(began))
		}
		go func() { time.Sleep(slotWait / 2); d.Stored(); d.Stored(); d.Refused("late") }()
		if !s.take(false) || told.Load() == 0 {
			t.Error("it did not take the slot that was given back")
		}
		if s.take(false) {
			t.Error("a slot was given back twice")
		}
	})
}
