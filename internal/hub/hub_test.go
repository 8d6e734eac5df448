package hub

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/shop"
	"recoat/sensors"
)

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
