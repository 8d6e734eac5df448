package hub

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

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
