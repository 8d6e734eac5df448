package hub

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/sensors"
)

// touch notes what was found by touch on a coat now.
func (b *bench) touch(coat string, f shop.Feel) {
	b.Helper()
	now := time.Now()
	if _, err := b.journal.AddTouch(b.Context(), shop.Touch{Coat: coat, Feel: f, At: now}, now); err != nil {
		b.Fatal(err)
	}
	synctest.Wait()
}

func recoat(s room.Snapshot) drying.Estimate {
	for _, e := range s.Coats[0].Estimates {
		if e.Stage == drying.DryToRecoat {
			return e
		}
	}
	return drying.Estimate{}
}

// At the label's own conditions the coat should be set to touch after five
// minutes. It is still wet after twelve.
func TestAWetFingerMovesTheTime(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		c := b.apply(top, 0)
		b.minutes(12, 1, 23, 50)
		before := b.room("back-room")
		b.touch(c.ID, shop.Wet)
		after := b.room("back-room")
		if gain := recoat(after).Likely.Sub(recoat(before).Likely); gain < time.Minute {
			t.Errorf("dry to recoat only %s later: %+v", gain, recoat(after))
		}
		if before.Coats[0].Lesson != "" || !strings.Contains(after.Coats[0].Lesson, "1 touch test") {
			t.Errorf("before %q, after %q", before.Coats[0].Lesson, after.Coats[0].Lesson)
		}
		b.stop()
		b.start()
		if again := b.room("back-room"); again.Coats[0].Lesson != after.Coats[0].Lesson {
			t.Errorf("after a restart %q", again.Coats[0].Lesson)
		}
	})
}

// The node was cut off while the coat was put on and touched; its spool comes
// afterwards.
func TestATouchTestCountsOnceItsReadingsCome(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		b.deliver("back-room", round(1, 23, 50))
		time.Sleep(time.Minute)
		c := b.apply(top, 0)
		began := time.Now()
		time.Sleep(12 * time.Minute)
		b.touch(c.ID, shop.Wet)
		if lesson := b.room("back-room").Coats[0].Lesson; lesson != "" {
			t.Errorf("without a reading it learnt: %s", lesson)
		}
		for m := range 13 {
			r := round(uint64(m)+2, 23, 50)
			r.Time = began.Add(time.Duration(m) * time.Minute)
			b.deliver("back-room", r)
		}
		time.Sleep(3 * time.Minute)
		if lesson := b.room("back-room").Coats[0].Lesson; !strings.Contains(lesson, "1 touch test") {
			t.Errorf("once its readings are there: %q", lesson)
		}
	})
}

// A coat is recorded late, and the store cannot be read just then.
func TestAHistoryThatCouldNotBeReadIsReadAgain(t *testing.T) {
	inBubble(t, func(b *bench) {
		top, _ := b.furnish()
		const ago = 30 * 24 * time.Hour // beyond what a room is brought up with
		began := time.Now().Add(-ago)
		for m := range 60 {
			r := round(uint64(m)+1, 23, 50)
			r.Time = began.Add(time.Duration(m) * time.Minute)
			if err := b.readings.Append(b.Context(), "back-room", []sensors.Round{r}); err != nil {
				t.Fatal(err)
			}
		}
		b.minutes(2, 61, 23, 50)
		b.readings.blind.set(true)
		b.apply(top, time.Since(began))
		time.Sleep(time.Minute)
		if e := recoat(b.room("back-room")); e.Reached {
			t.Fatalf("without its history it is ready: %+v", e)
		}
		b.readings.blind.set(false)
		time.Sleep(time.Minute)
		if e := recoat(b.room("back-room")); !e.Reached || e.Likely.Sub(began).Round(time.Minute) != 20*time.Minute {
			t.Errorf("once the store can be read: %+v", e)
		}
	})
}

func TestAnUnknownAlertIsNotAcknowledged(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.furnish()
		if b.hub.Acknowledge("nobody") {
			t.Error("an alert that does not stand was acknowledged")
		}
	})
}
