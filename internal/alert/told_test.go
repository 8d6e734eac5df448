package alert

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestToldIsWhatHadAPartOfTheTime(t *testing.T) {
	o := newOutbox(t)
	at := func(hours int) time.Time {
		if hours == 0 {
			return time.Time{}
		}
		return dusk.Add(time.Duration(hours) * time.Hour)
	}
	for _, e := range []struct {
		id, room      string
		state         State
		raised, ended int // hours after dusk; 0: not
		once          bool
	}{
		{"long over", "back-room", Cleared, -9, -8, false},
		{"over within", "back-room", Cleared, -5, 1, false},
		{"all within", "back-room", Cleared, 2, 3, false},
		{"stands", "back-room", Acknowledged, -4, 0, false},
		{"to come", "back-room", Raised, 8, 0, false},
		{"pending", "back-room", Pending, 0, 0, false},
		{"told once before", "back-room", Raised, -3, 0, true},
		{"told once within", "back-room", Raised, 4, 0, true},
		{"elsewhere", "attic", Raised, 2, 0, false},
	} {
		commit(t, o, Transition{From: Raised, At: dusk, Episode: Episode{
			ID: e.id, Key: Key{Rule: "unfit", Room: e.room, Subject: e.id}, State: e.state, Since: dusk, RaisedAt: at(e.raised), EndedAt: at(e.ended), Once: e.once,
		}})
	}
	got, err := o.Told(t.Context(), "back-room", dusk, dusk.Add(6*time.Hour))
	must(t, err)
	var ids []string
	for _, e := range got {
		ids = append(ids, e.ID)
	}
	if diff := cmp.Diff([]string{"over within", "stands", "all within", "told once within"}, ids); diff != "" {
		t.Error(diff)
	}
}
