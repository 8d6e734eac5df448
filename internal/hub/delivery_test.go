package hub

import (
	"testing"
	"testing/synctest"
	"time"

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
