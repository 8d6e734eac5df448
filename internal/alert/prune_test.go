package alert

import (
	"testing"
	"time"
)

// Of what is long over only that goes which nobody waits for.
func TestPruneKeepsWhatIsNotDealtWith(t *testing.T) {
	o := newOutbox(t)
	end := func(id string, once bool) {
		raise(t, o, id, Warning, "phone")
		commit(t, o, Transition{
			Episode: Episode{ID: id, Key: Key{"unfit", "back-room", id}, State: Cleared, Severity: Warning, Title: id, Body: "body", Since: dusk, RaisedAt: dusk, EndedAt: dusk.Add(time.Hour), Told: 1, Once: once},
			From:    Raised, Cause: Ended, Title: id, Body: "body", At: dusk.Add(time.Hour),
		})
	}
	end("told", false)
	end("waiting", false)
	raise(t, o, "standing", Warning, "phone")
	for _, m := range messages(t, o) {
		if m.Episode == "told" {
			must(t, o.Begin(t.Context(), m.ID, dusk))
			must(t, o.Done(t.Context(), m.ID, dusk))
		}
	}
	if n, err := o.Prune(t.Context(), dusk); err != nil || n != 0 {
		t.Fatalf("before anything was over: %d, %v", n, err)
	}
	if n, err := o.Prune(t.Context(), dusk.AddDate(1, 0, 0)); err != nil || n != 1 {
		t.Fatalf("%d episodes went, %v", n, err)
	}
	left := map[string]bool{}
	for _, m := range messages(t, o) {
		left[m.Episode] = true
	}
	if left["told"] || !left["waiting"] || !left["standing"] {
		t.Errorf("messages are left of %v", left)
	}
}
