package hub

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

func TestADeliveryIsAcknowledgedOnceItIsStoredAndNotBefore(t *testing.T) {
	inBubble(t, func(b *bench) {
		first, second := b.deliver("back-room", round(1, 20, 50)), b.deliver("back-room", round(2, 20, 50), round(3, 20, 50))
		synctest.Wait()
		if s := b.room("back-room"); s.Air == nil {
			t.Error("the page waits for the store")
		}
		if first.count()+second.count() != 0 {
			t.Error("acknowledged while the batch is still open")
		}
		time.Sleep(5 * time.Second)
		if first.count() != 1 || second.count() != 1 {
			t.Errorf("acknowledged %d and %d times", first.count(), second.count())
		}
	})
}

func TestAStoreThatFailsIsTriedAgainUntilItHoldsEverything(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.readings.set(true)
		var all []*receipt
		for seq := range uint64(20) {
			all = append(all, b.deliver("back-room", round(seq+1, 20, 50)))
			time.Sleep(3 * time.Second)
		}
		for _, r := range all {
			if r.count() != 0 {
				t.Fatal("acknowledged what the store refused")
			}
		}
		b.readings.set(false)
		time.Sleep(time.Minute)
		for i, r := range all {
			if r.count() != 1 {
				t.Errorf("round %d was acknowledged %d times", i+1, r.count())
			}
		}
	})
}

func TestWhatIsInHandIsStoredWhenTheHubStops(t *testing.T) {
	inBubble(t, func(b *bench) {
		r := b.deliver("back-room", round(1, 20, 50))
		synctest.Wait()
		b.stop()
		if r.count() != 1 {
			t.Error("the last round is not stored")
		}
	})
}

// A round of the year 2300 can never be kept (a store takes 1970 to 2100).
func TestAPoisonRoundIsPassedOverAndBlocksNoOther(t *testing.T) {
	inBubble(t, func(b *bench) {
		poison := round(2, 20, 50)
		poison.Time = time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC)
		before, bad, after := b.deliver("back-room", round(1, 20, 50)), b.deliver("back-room", poison), b.deliver("back-room", round(3, 20, 50))
		elsewhere := b.deliver("loft", round(1, 20, 50))
		time.Sleep(5 * time.Second)
		if before.count() != 1 || after.count() != 1 || elsewhere.count() != 1 || bad.count() != 0 {
			t.Errorf("acknowledged before %d, poison %d, after %d, elsewhere %d", before.count(), bad.count(), after.count(), elsewhere.count())
		}
		// The store fails between the two tries that a poisoned batch needs.
		poison.Seq = 5
		bad = b.deliver("back-room", poison)
		b.readings.set(true)
		late := b.deliver("back-room", round(6, 20, 50))
		time.Sleep(5 * time.Second)
		b.readings.set(false)
		time.Sleep(time.Minute)
		if late.count() != 1 || bad.count() != 0 {
			t.Errorf("after an outage: %d, poison %d", late.count(), bad.count())
		}
	})
}

func TestARestartTellsNothingTwiceAndForgetsNothing(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		b.apply(top, 0)
		b.minutes(40, 1, 23, 50)
		want := []string{"ready c-0001/dry-to-recoat first"}
		if diff := cmp.Diff(want, b.told()); diff != "" {
			t.Fatal(diff)
		}
		before := b.room("back-room")
		b.stop()
		b.start()
		if diff := cmp.Diff(before.Alerts, b.room("back-room").Alerts); diff != "" || len(before.Alerts) != 1 {
			t.Errorf("%d alerts before the restart; %s", len(before.Alerts), diff)
		}
		b.minutes(20, 41, 23, 50)
		if diff := cmp.Diff(want, b.told()); diff != "" {
			t.Errorf("after the restart: %s", diff)
		}
		after := b.room("back-room")
		a, z := before.Coats[0].Estimates[drying.DryToRecoat], after.Coats[0].Estimates[drying.DryToRecoat]
		if !a.Reached || !a.Likely.Equal(z.Likely) || z.Uncovered != 0 {
			t.Errorf("ready at %s, after the restart at %s with %s not covered", a.Likely, z.Likely, z.Uncovered)
		}
	})
}

func TestAChangeOfTheJournalReachesTheRoom(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.deliver("back-room", round(1, 23, 50)) // before the journal knows of the room
		synctest.Wait()
		if s := b.room("back-room"); s.Title != "back-room" {
			t.Errorf("called %q before anybody named it", s.Title)
		}
		top, leg := b.furnish()
		first, second := b.apply(top, time.Hour), b.apply(leg, 0)
		s := b.room("back-room")
		if s.Title != "Back room" {
			t.Errorf("the journal's name for it is not taken over: %q", s.Title)
		}
		if len(s.Coats) != 2 || s.Coats[0].ID != first.ID || s.Coats[1].Part != "leg" {
			t.Errorf("%+v", s.Coats)
		}
		if err := b.journal.UndoCoat(b.Context(), second.ID, time.Now()); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if s := b.room("back-room"); len(s.Coats) != 1 || s.Coats[0].ID != first.ID {
			t.Errorf("an undone coat is followed on: %+v", s.Coats)
		}
	})
}

func TestACoatRecordedLateBringsItsHistory(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		const ago = 30 * 24 * time.Hour
		for i := range uint64(60) {
			r := round(i+1, 23, 50)
			r.Time = r.Time.Add(time.Duration(i)*time.Minute - ago)
			if err := b.readings.Append(b.Context(), "back-room", []sensors.Round{r}); err != nil {
				t.Fatal(err)
			}
		}
		b.minutes(5, 61, 23, 50)
		b.apply(top, ago)
		e := b.room("back-room").Coats[0].Estimates[drying.DryToRecoat]
		if !e.Reached {
			t.Errorf("the half hour a month ago in which the coat became ready is not counted: %+v", e)
		}
	})
}

func TestARoomThatCouldNotBeBroughtUpComesUpLater(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.readings.Readings.Append(b.Context(), "loft", []sensors.Round{round(1, 10, 90)})
		b.journal.set(true)
		r := b.deliver("loft", round(2, 23, 50))
		time.Sleep(5 * time.Second)
		if got := b.hub.Snapshots(); len(got) != 0 {
			t.Errorf("half a room is shown: %+v", got)
		}
		if r.count() != 1 {
			t.Error("its readings are not stored")
		}
		b.journal.set(false)
		b.deliver("loft", round(3, 23, 50))
		synctest.Wait()
		known := 0
		for _, p := range b.room("loft").Margin {
			if p.Known && !p.Projected {
				known++
			}
		}
		if known != 1 {
			t.Errorf("%d steps of the band have the readings of before", known)
		}
	})
}

// The door is open for a quarter of an hour, and shut again for longer, while
// the outbox cannot be written.
func TestDecisionsThatCouldNotBeRecordedAreRecordedLaterInOrder(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		b.apply(top, 0)
		b.minutes(2, 1, 23, 50)
		b.decisions.set(true)
		b.minutes(15, 3, 20, 95)
		b.minutes(25, 18, 23, 50)
		if got := b.told(); len(got) != 0 {
			t.Fatalf("recorded %v while nothing could be", got)
		}
		b.decisions.set(false)
		time.Sleep(10 * time.Second)
		want := []string{"unfit  first", "ready c-0001/dry-to-recoat first", "unfit  cleared"}
		if diff := cmp.Diff(want, b.told()); diff != "" {
			t.Error(diff)
		}
		b.minutes(5, 43, 23, 50)
		if diff := cmp.Diff(want, b.told()); diff != "" {
			t.Errorf("told again: %s", diff)
		}
		episodes, err := b.decisions.Episodes(b.Context(), 10)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range episodes {
			if e.Key.Rule == "unfit" && e.State != alert.Cleared {
				t.Errorf("%+v", e)
			}
		}
	})
}

func TestAPersonsAcknowledgementIsRecorded(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.deliver("back-room", round(1, 20, 50))
		time.Sleep(10 * time.Minute)
		shown := b.room("back-room").Alerts
		if len(shown) != 1 || shown[0].State != alert.Raised {
			t.Fatalf("%+v", shown)
		}
		b.hub.Acknowledge(shown[0].ID)
		synctest.Wait()
		episodes, err := b.decisions.Episodes(b.Context(), 10)
		if err != nil || len(episodes) != 1 || episodes[0].State != alert.Acknowledged {
			t.Errorf("%+v, %v", episodes, err)
		}
	})
}

func TestAWatcherThatDoesNotLookHoldsUpNobody(t *testing.T) {
	inBubble(t, func(b *bench) {
		lazy, leave := context.WithCancel(b.Context())
		asleep, awake := b.hub.Watch(lazy), b.hub.Watch(b.Context())
		seen := 0
		for seq := range uint64(5) {
			b.deliver("back-room", round(seq+1, 20, 50))
			synctest.Wait()
			select {
			case <-awake:
				seen++
			default:
			}
		}
		if seen != 5 {
			t.Errorf("one who looks saw %d of 5 changes", seen)
		}
		if len(asleep) != 1 {
			t.Errorf("%d ticks wait for one who does not look, want one", len(asleep))
		}
		leave()
		synctest.Wait()
		b.hub.watchers.mu.Lock()
		defer b.hub.watchers.mu.Unlock()
		if n := len(b.hub.watchers.all); n != 1 {
			t.Errorf("%d watch after one has left", n)
		}
	})
}

func TestAStoppedHubAnswersAndTakesNothing(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.deliver("back-room", round(1, 20, 50))
		time.Sleep(5 * time.Second)
		b.stop()
		if got := b.hub.Snapshots(); got != nil {
			t.Errorf("%+v", got)
		}
		for i := range uint64(2 * queue) {
			b.hub.Acknowledge("e1")
			if r := b.deliver("back-room", round(i+2, 20, 50)); r.count() != 0 {
				t.Fatal("acknowledged after the end")
			}
		}
	})
}

func TestManyRoomsAreKeptApartAndShownByTitle(t *testing.T) {
	inBubble(t, func(b *bench) {
		const rooms = 20
		for i := range rooms {
			id := fmt.Sprintf("room-%02d", i)
			if err := b.journal.AddRoom(b.Context(), shop.Room{ID: id, Title: fmt.Sprintf("Room %02d", rooms-i)}, time.Now()); err != nil {
				t.Fatal(err)
			}
			b.deliver(id, round(1, float64(10+i), 50))
		}
		time.Sleep(5 * time.Second)
		all := b.hub.Snapshots()
		if len(all) != rooms {
			t.Fatalf("%d rooms", len(all))
		}
		for i, s := range all {
			n := rooms - 1 - i
			if s.Room != fmt.Sprintf("room-%02d", n) || s.Title != fmt.Sprintf("Room %02d", i+1) || float64(s.Air.Air) != float64(10+n) {
				t.Errorf("%d: %s, %s, %v", i, s.Room, s.Title, s.Air)
			}
		}
	})
}

func TestARoomKeepsToItsOwnLimits(t *testing.T) {
	inBubble(t, func(b *bench) {
		strict := drying.Limits{AirMin: 22, AirMax: 30, HumidityMax: 60, DewMarginMin: 4}
		if err := b.journal.AddRoom(b.Context(), shop.Room{ID: "loft", Title: "Loft", Limits: &strict}, time.Now()); err != nil {
			t.Fatal(err)
		}
		b.deliver("loft", round(1, 20, 50))
		b.deliver("back-room", round(1, 20, 50))
		synctest.Wait()
		if a, z := b.room("loft").Verdict.State, b.room("back-room").Verdict.State; a != drying.Unfit || z != drying.Fit {
			t.Errorf("the strict room is %v, the other %v", a, z)
		}
	})
}

// reached lists when a room's first coat reached its stages.
func reached(s room.Snapshot) map[drying.Stage]time.Time {
	all := map[drying.Stage]time.Time{}
	for _, e := range s.Coats[0].Estimates {
		if e.Reached {
			all[e.Stage] = e.Likely
		}
	}
	return all
}

// The node's clock is over eight minutes behind for forty minutes, of which the first
// ten are too damp for the coat to dry in, and is set then. Whether the store
// can be written meanwhile makes no difference.
func TestTimesThatWereCorrectedEndWhereTheyBelong(t *testing.T) {
	for name, failing := range map[string]bool{"store written": false, "store failing": true} {
		t.Run(name, func(t *testing.T) { inBubble(t, func(b *bench) { testCorrection(b, failing) }) })
	}
}

func testCorrection(b *bench, failing bool) {
	top, _ := b.furnish()
	b.apply(top, 0)
	const behind, n = 8*time.Minute + 30*time.Second, 40
	var rounds []sensors.Round
	for i := range n {
		right := round(uint64(i)+1, 23, 50)
		if i < 10 {
			right.Readings[1].Value = 97
		}
		right.Uptime = time.Duration(i) * time.Minute
		rounds = append(rounds, right)
		wrong := right
		wrong.Time, wrong.ClockSet = right.Time.Add(-behind), false
		b.deliver("back-room", wrong)
		time.Sleep(time.Minute)
	}
	if kept, _ := b.held("back-room", "b1", 1); !kept.ClockSet {
		b.Error("a round that the hub's clock bore out is not dated in the store: after a restart it would be lost")
	}
	b.readings.set(failing)
	for _, r := range rounds {
		b.deliver("back-room", r)
	}
	time.Sleep(time.Minute)
	got := b.room("back-room")
	b.readings.set(false)
	time.Sleep(time.Minute)
	b.stop()
	b.start() // from the store alone
	want := b.room("back-room")
	if diff := cmp.Diff(reached(want), reached(got)); diff != "" {
		b.Errorf("the live room is not what its store makes of it: %s", diff)
	}
	for _, r := range rounds {
		if kept, ok := b.held("back-room", "b1", r.Seq); !ok || !kept.ClockSet || !kept.Time.Equal(r.Time.Truncate(time.Millisecond)) {
			b.Errorf("round %d is kept at %s, want %s", r.Seq, kept.Time, r.Time)
		}
	}
	// The label's twenty minutes begin when the damp is over.
	if at := reached(got)[drying.DryToRecoat].Sub(rounds[0].Time); at.Round(time.Minute) != 30*time.Minute {
		b.Errorf("ready %s after the coat was put on", at)
	}
}

func TestOfTwoVersionsInHandTheBetterDatedCounts(t *testing.T) {
	var o owned
	unset, set, later := round(1, 20, 50), round(1, 20, 50), round(1, 20, 50)
	unset.ClockSet = false
	later.Time = set.Time.Add(time.Minute)
	for _, r := range []sensors.Round{set, unset, later, unset} {
		o.remember(alert.Instant{}, r)
	}
	o.remember(alert.Instant{}, func() sensors.Round { r := unset; r.Seq = 2; return r }())
	if got := o.newest(); len(got) != 1 || !got[identityOf(set)].Time.Equal(later.Time) {
		t.Errorf("%+v", got)
	}
	o.forgetUntil(time.Second)
	if len(o.recent) != 0 {
		t.Errorf("%+v", o.recent)
	}
}

// What goes to the store as dated was still unset to its node, and has to be
// acknowledged as that.
func TestTheDeliveryItselfIsLeftAsItCame(t *testing.T) {
	inBubble(t, func(b *bench) {
		rounds := []sensors.Round{round(1, 20, 50)}
		rounds[0].ClockSet = false
		b.hub.Deliver(telemetry.Delivery{Room: "back-room", Node: "bench", Rounds: rounds, Stored: func() {}})
		time.Sleep(5 * time.Second)
		if kept, ok := b.held("back-room", "b1", 1); !ok || !kept.ClockSet || rounds[0].ClockSet {
			t.Errorf("stored as set: %v; as it came: %v", kept.ClockSet, rounds[0].ClockSet)
		}
	})
}

func TestAHubThatCannotReadItsJournalDoesNotRun(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.furnish()
		b.journal.set(true)
		h := New(b.hub.opt)
		ctx, cancel := context.WithCancel(b.Context())
		defer cancel()
		if err := h.Run(ctx); !errors.Is(err, errDown) {
			t.Errorf("it ran, and ended with %v", err)
		}
		if h.Snapshots() != nil {
			t.Error("it shows rooms")
		}
	})
}

// A batch ends with the window at the latest, so that a chatty room is stored
// too.
func TestABatchDoesNotWaitForAPauseForEver(t *testing.T) {
	inBubble(t, func(b *bench) {
		first := b.deliver("back-room", round(1, 20, 50))
		for seq := range uint64(60) {
			time.Sleep(pause / 2)
			b.deliver("back-room", round(seq+2, 20, 50))
		}
		if first.count() != 1 {
			t.Error("after three seconds without a pause nothing is stored")
		}
		q := store.Query{Room: "back-room", From: time.Unix(0, 0), To: time.Now().Add(time.Hour)}
		n := 0
		_ = b.readings.Rounds(b.Context(), q, func(sensors.Round) error { n++; return nil })
		if n < 30 {
			t.Errorf("%d rounds are stored", n)
		}
	})
}
