package hub

import (
	"testing"
	"testing/synctest"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/shop"
)

// A coat that is carried into a warm room has dried in the cold one until then,
// live and after a restart.
func TestACoatCarriedIntoAnotherRoomKeepsWhatItWentThrough(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		if err := b.journal.AddRoom(b.Context(), shop.Room{ID: "stove-room", Title: "Stove room"}, time.Now()); err != nil {
			t.Fatal(err)
		}
		seq := uint64(0)
		pass := func(minutes int) {
			t.Helper()
			for range minutes {
				seq++
				cold, warm := round(seq, 11, 50), round(seq, 23, 50)
				warm.Node = "stove"
				b.deliver("back-room", cold)
				b.deliver("stove-room", warm)
				time.Sleep(time.Minute)
			}
		}
		recoat := func(id string) drying.Estimate {
			t.Helper()
			coats := b.room(id).Coats
			if len(coats) != 1 {
				t.Fatalf("%s has %d coats", id, len(coats))
			}
			return coats[0].Estimates[drying.DryToRecoat]
		}
		pass(5)
		b.apply(top, 0)
		pass(10)
		cold := recoat("back-room")
		if err := b.journal.PlacePart(b.Context(), top, "stove-room", "", time.Now()); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if n := len(b.room("back-room").Coats); n != 0 {
			t.Errorf("the room it left still follows %d coats", n)
		}
		if moved := recoat("stove-room"); moved.Gained < cold.Gained-0.02 || moved.Gained > cold.Gained+0.02 {
			t.Errorf("in the cold room it had gained %.3f, just carried into the warm one %.3f", cold.Gained, moved.Gained)
		}
		pass(10)
		live := recoat("stove-room")
		if warm := live.Gained - cold.Gained; warm < 1.3*cold.Gained {
			t.Errorf("ten minutes in the cold gained %.3f, ten in the warm %.3f", cold.Gained, warm)
		}
		past := Past{Readings: b.readings, Journal: b.journal.Journal, Route: alert.RouterConfig{Channels: []string{"phone"}, Zone: time.UTC}}
		for id, follows := range map[string][2]int{"back-room": {1, 0}, "stove-room": {0, 1}} {
			play, err := past.player(b.Context(), id, evening, time.Now())
			if err != nil {
				t.Fatal(err)
			}
			for i, at := range []time.Time{evening.Add(10 * time.Minute), evening.Add(20 * time.Minute)} {
				jobs, _ := play.jobs(at)
				if len(jobs) != follows[i] {
					t.Errorf("at %s %s is played with %d coats", at.Format("15:04"), id, len(jobs))
				}
				if len(jobs) == 1 && id == "stove-room" && len(jobs[0].Earlier) < 10 {
					t.Errorf("played in the warm room, it met %d minutes before", len(jobs[0].Earlier))
				}
			}
		}
		b.stop()
		b.start()
		b.minutes(1, seq+1, 11, 50)
		if again := recoat("stove-room"); again.Gained < live.Gained-0.001 {
			t.Errorf("before the restart %.3f, after it %.3f", live.Gained, again.Gained)
		}
	})
}
