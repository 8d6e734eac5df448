package hub

import (
	"testing"
	"time"
)

// A batch ends with the window at the latest, so that a chatty room is stored
// too.
func TestABatchDoesNotWaitForAPauseForEver(t *testing.T) {
	inBubble(t, func(b *bench) {
		first := b.deliver("back-room", round(1, 20, 50))
		for seq := range uint64(250) {
			time.Sleep(pause * 9 / 10)
			b.deliver("back-room", round(seq+2, 20, 50))
		}
		if first.count() != 1 {
			t.Error("after more than two seconds without a pause nothing is stored")
		}
	})
}

// A round after a calm is stored at once; those scattered behind it share a commit
// once that is a window ago; many at once do not wait.
func TestFewRoundsShareACommit(t *testing.T) {
	inBubble(t, func(b *bench) {
		time.Sleep(time.Minute)
		first := b.deliver("back-room", round(1, 20, 50))
		time.Sleep(2 * pause)
		if first.count() != 1 {
			t.Error("the first round waits")
		}
		second := b.deliver("back-room", round(2, 20, 50))
		time.Sleep(500 * time.Millisecond)
		third := b.deliver("back-room", round(3, 20, 50))
		time.Sleep(time.Second)
		if second.count() != 0 || third.count() != 0 {
			t.Error("scattered rounds have a commit each")
		}
		time.Sleep(time.Second)
		if second.count() != 1 || third.count() != 1 {
			t.Error("scattered rounds wait for longer than the window")
		}
		var last *receipt
		for seq := range uint64(enough) {
			last = b.deliver("back-room", round(seq+4, 20, 50))
		}
		time.Sleep(2 * pause)
		if last.count() != 1 {
			t.Error("many rounds wait")
		}
	})
}
