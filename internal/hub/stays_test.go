package hub

import (
	"testing"
	"testing/synctest"
	"time"

	"recoat/drying"
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
		b.stop()
		b.start()
		b.minutes(1, seq+1, 11, 50)
		if again := recoat("stove-room"); again.Gained < live.Gained-0.001 {
			t.Errorf("before the restart %.3f, after it %.3f", live.Gained, again.Gained)
		}
	})
}
