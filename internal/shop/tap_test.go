package shop

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func tapped(t *testing.T, id string) context.Context {
	t.Helper()
	return WithTap(t.Context(), Tap{ID: id, Made: evening, Who: "Ada Example"})
}

// A phone that never heard the answer sends its tap again, to a hub that was
// started anew or restored meanwhile; it is the same change.
func TestATapIsTakenOnce(t *testing.T) {
	j := furnished(t)
	a := Application{Part: "p-0001.1", Product: "f-0001", Applied: evening}
	later := evening.Add(2 * time.Hour)
	first, err := j.ApplyCoat(tapped(t, "phone-1-0001"), a, later)
	if err != nil {
		t.Fatal(err)
	}
	restored := filepath.Join(t.TempDir(), "journal.db")
	if err := RestoreJournal(t.Context(), restored, bytes.NewReader(backedUp(t, j))); err != nil {
		t.Fatal(err)
	}
	path := j.db.Path
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{path, restored} {
		j := open(t, path)
		before := len(changes(t, j, 0))
		again, err := j.ApplyCoat(tapped(t, "phone-1-0001"), a, later.Add(time.Hour))
		if err != nil || again.ID != first.ID || len(changes(t, j, 0)) != before {
			t.Errorf("again: %s, %v, %d changes", again.ID, err, len(changes(t, j, 0))-before)
		}
		all := changes(t, j, 0)
		last := all[len(all)-1]
		if last.Tap != "phone-1-0001" || last.Who != "Ada Example" || !last.Made.Equal(evening) || !last.At.Equal(later) {
			t.Errorf("%+v", last)
		}
		if _, err := j.AddTouch(tapped(t, "phone-1-0001"), Touch{Coat: first.ID, At: evening, Feel: Dry}, later); !asked(err) || !strings.Contains(err.Error(), "was taken before, to apply the coat") {
			t.Errorf("the same id for something else: %v", err)
		}
	}
}

func TestATapSentManyTimesAtOnceIsTakenOnce(t *testing.T) {
	j := furnished(t)
	var all sync.WaitGroup
	ids := make([]string, 20)
	for i := range ids {
		all.Go(func() {
			c, err := j.ApplyCoat(tapped(t, "phone-2-0001"), Application{Part: "p-0001.1", Product: "f-0001", Applied: evening}, evening)
			if err != nil {
				t.Error(err)
			}
			ids[i] = c.ID
		})
	}
	all.Wait()
	for _, id := range ids {
		if id != "c-0001" {
			t.Errorf("%s", id)
		}
	}
	if coats, err := j.Coats(t.Context(), CoatFilter{}); err != nil || len(coats) != 1 {
		t.Errorf("%d coats, %v", len(coats), err)
	}
}

// A tap that changed nothing counts as taken: sent again after another change,
// it does not take that back.
func TestATapThatFoundNothingToDo(t *testing.T) {
	j := furnished(t)
	place := func(tap, room string) {
		t.Helper()
		if err := j.PlacePart(tapped(t, tap), "p-0001.2", room, "", evening); err != nil {
			t.Fatal(err)
		}
	}
	place("phone-3-0001", "back-room") // where it is
	place("phone-3-0002", "")
	place("phone-3-0001", "back-room") // once more
	p, err := j.Piece(t.Context(), "p-0001")
	if err != nil || p.Parts[1].Room != "" {
		t.Errorf("%+v, %v", p.Parts[1], err)
	}
}

func TestTapsThatAreRefused(t *testing.T) {
	j := furnished(t)
	for says, tap := range map[string]Tap{
		"is not 8 to 64 letters":         {ID: "short"},
		"letters, digits or '-'":         {ID: "phone 1; DROP TABLE"},
		"the time of the tap lies in":    {ID: "phone-4-0001", Made: evening.Add(time.Hour)},
		"the name of who did it holds":   {Who: "a\u202eb"},
		"the time of the tap lies befor": {Made: time.Unix(0, 0)},
	} {
		err := j.PlacePart(WithTap(t.Context(), tap), "p-0001.2", "", "", evening)
		if !asked(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
}
