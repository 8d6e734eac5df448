package hub

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/sensors"
)

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
