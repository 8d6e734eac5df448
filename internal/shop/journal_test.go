package shop

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

// evening is when the tests take place.
var evening = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

func open(t *testing.T, path string) *Journal {
	t.Helper()
	j, err := OpenJournal(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

// furnished returns a journal with a room, a product (f-0001) and a dresser
// (p-0001) of two parts in that room.
func furnished(t *testing.T) *Journal {
	t.Helper()
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	if err := j.AddRoom(t.Context(), Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		t.Fatal(err)
	}
	if _, err := j.PutProduct(t.Context(), load(t, quietHarbour), evening); err != nil {
		t.Fatal(err)
	}
	if _, err := j.AddPiece(t.Context(), dresser(), evening); err != nil {
		t.Fatal(err)
	}
	return j
}

func dresser() Piece {
	return Piece{Name: "Dresser", Parts: []Part{
		{Name: "top", Material: "oak", ThicknessMM: 22, Room: "back-room", Probe: "28-0316a2791b5f"},
		{Name: "drawer fronts", Material: "pine", ThicknessMM: 18, Room: "back-room"},
	}}
}

func apply(t *testing.T, j *Journal, part string, at time.Time) Coat {
	t.Helper()
	c, err := j.ApplyCoat(t.Context(), Application{Part: part, Product: "f-0001", Applied: at}, at)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func changes(t *testing.T, j *Journal, after int64) []Change {
	t.Helper()
	var all []Change
	err := j.Changes(t.Context(), after, func(c Change) error { all = append(all, c); return nil })
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// asked reports whether err tells a person what to give instead.
func asked(err error) bool {
	var input *InputError
	return errors.As(err, &input)
}

func TestJournalKeepsEverythingWhenReopened(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a folder", "journal.db")
	j := open(t, path)
	if rooms, err := j.Rooms(t.Context()); err != nil || len(rooms) != 0 {
		t.Fatal(rooms, err)
	}
	if err := j.AddRoom(t.Context(), Room{ID: "attic", Title: "Attic"}, evening); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j = open(t, path)
	rooms, err := j.Rooms(t.Context())
	if d := cmp.Diff([]Room{{ID: "attic", Title: "Attic"}}, rooms); d != "" || err != nil {
		t.Error(d, err)
	}
	if n := len(changes(t, j, 0)); n != 1 {
		t.Errorf("%d changes are kept", n)
	}
}

func TestChangesTellWhatWasDone(t *testing.T) {
	j := furnished(t)
	c := apply(t, j, "p-0001.1", evening.Add(time.Minute))
	if err := j.UndoCoat(t.Context(), c.ID, evening.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	all := changes(t, j, 0)
	var told []string
	for i, c := range all {
		told = append(told, c.What+" "+c.Subject)
		if c.Seq != int64(i)+1 || !json.Valid(c.Before) || !json.Valid(c.After) {
			t.Errorf("change %d is %+v", i, c)
		}
	}
	want := []string{"add the room back-room", "put the product f-0001", "add the piece p-0001", "apply the coat c-0001", "undo the coat c-0001"}
	if d := cmp.Diff(want, told); d != "" {
		t.Error(d)
	}
	last := all[4]
	if !last.At.Equal(evening.Add(time.Hour)) || strings.Contains(string(last.Before), "undone") || !strings.Contains(string(last.After), `"undone":"2026-03-01T22:30:00Z"`) {
		t.Errorf("%s: %s → %s", last.At, last.Before, last.After)
	}
	if rest := changes(t, j, 4); len(rest) != 1 || rest[0].Seq != 5 {
		t.Errorf("after 4: %+v", rest)
	}
	if string(all[0].Before) != "null" {
		t.Errorf("before the first room there was %s", all[0].Before)
	}
}

func TestTheRecordOfChangesCannotBeAltered(t *testing.T) {
	j := furnished(t)
	for _, statement := range []string{`UPDATE change SET after = ''`, `DELETE FROM change`, `DELETE FROM change WHERE seq = 1`} {
		if _, err := j.db.Write.Exec(statement); err == nil {
			t.Errorf("%s went through", statement)
		}
	}
	if n := len(changes(t, j, 0)); n != 3 {
		t.Errorf("%d changes are left", n)
	}
}

func TestWatchTicksAfterChanges(t *testing.T) {
	j := furnished(t)
	ctx, cancel := context.WithCancel(t.Context())
	tick := j.Watch(ctx)
	ticked := func() bool {
		select {
		case _, open := <-tick:
			return open
		default:
			return false
		}
	}
	if ticked() {
		t.Error("ticked before any change")
	}
	for i := range 3 {
		apply(t, j, "p-0001.1", evening.Add(time.Duration(i)*time.Hour))
	}
	if !ticked() || ticked() {
		t.Error("three changes that nobody looked at are one tick")
	}
	if err := j.UndoCoat(t.Context(), "c-0099", evening); err == nil || ticked() {
		t.Error("ticked for what was refused", err)
	}
	if _, err := j.PutProduct(t.Context(), load(t, quietHarbour), evening); err != nil || ticked() {
		t.Error("ticked for what changed nothing", err)
	}
	cancel()
	if _, open := <-tick; open {
		t.Error("ticked instead of closing")
	}
	apply(t, j, "p-0001.1", evening.Add(4*time.Hour))
}

func TestWatchTicksAfterWhatAnotherProcessChanged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := furnished(t)
		other := open(t, j.db.Path) // as another process would
		ctx, cancel := context.WithCancel(t.Context())
		tick := j.Watch(ctx)
		ticks := func() (n int) {
			time.Sleep(3 * lookEvery)
			for {
				select {
				case <-tick:
					n++
				default:
					return n
				}
			}
		}
		if n := ticks(); n != 0 {
			t.Errorf("%d ticks before any change", n)
		}
		apply(t, other, "p-0001.1", evening)
		apply(t, other, "p-0001.2", evening)
		if n := ticks(); n != 1 {
			t.Errorf("%d ticks after the other's two changes", n)
		}
		if coats, err := j.OpenCoats(t.Context(), "back-room"); err != nil || len(coats) != 2 {
			t.Errorf("%d coats, %v", len(coats), err)
		}
		apply(t, j, "p-0001.1", evening.Add(time.Hour))
		if n := ticks(); n != 1 {
			t.Errorf("%d ticks after one of its own", n)
		}
		cancel()
		if _, open := <-tick; open {
			t.Error("ticked instead of closing")
		}
	})
}

func TestConcurrentWritersLoseNothing(t *testing.T) {
	j := furnished(t)
	second := open(t, j.db.Path) // as another process would
	const writers, each = 8, 5
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			journal := []*Journal{j, second}[w%2]
			for i := range each {
				at := evening.Add(time.Duration(w*each+i) * time.Minute)
				c, err := journal.ApplyCoat(t.Context(), Application{Part: "p-0001.2", Product: "f-0001", Applied: at}, at)
				if err != nil {
					t.Error(err)
					continue
				}
				if _, err := journal.AddTouch(t.Context(), Touch{Coat: c.ID, At: at, Feel: Wet}, at); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	coats, err := j.Coats(t.Context(), CoatFilter{})
	if err != nil || len(coats) != writers*each {
		t.Errorf("%d coats, %v", len(coats), err)
	}
	seen := map[string]bool{}
	for _, c := range coats {
		seen[c.ID] = true
		if touches, err := j.Touches(t.Context(), c.ID); err != nil || len(touches) != 1 {
			t.Errorf("%s: %v, %v", c.ID, touches, err)
		}
	}
	if len(seen) != writers*each {
		t.Errorf("%d ids", len(seen))
	}
	for i, c := range changes(t, j, 0) {
		if c.Seq != int64(i)+1 {
			t.Fatalf("change %d has the number %d", i, c.Seq)
		}
	}
}

func TestNothingIsKeptOfWhatIsCancelled(t *testing.T) {
	j := furnished(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := j.AddRoom(ctx, Room{ID: "attic", Title: "Attic"}, evening); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if n := len(changes(t, j, 0)); n != 3 {
		t.Errorf("%d changes", n)
	}
}

func TestHostileNames(t *testing.T) {
	j := furnished(t)
	for name, says := range map[string]string{
		`<script>alert("x")</script>`:      "",
		`'; DROP TABLE coat; --`:           "",
		"=1+1":                             "",
		"שידה":                             "",
		"خزانة":                            "",
		"🪑 chair":                          "",
		"  Dresser  ":                      "",
		strings.Repeat("é", LongestName):   "",
		strings.Repeat("é", LongestName+1): "the piece's name has 201 characters: at most 200 fit",
		strings.Repeat("x", 100<<10):       "the piece's name has 102400 characters: at most 200 fit",
		"":                                 "the piece's name is empty: give it a name",
		" \t\n":                            "the piece's name is empty: give it a name",
		"a\x00b":                           "the piece's name holds the invisible character U+0000: leave it out",
		"two\nlines":                       "the piece's name holds the invisible character U+000A: leave it out",
		"gnp\u202etxt":                     "the piece's name holds the invisible character U+202E: leave it out",
		"a\u2066b":                         "the piece's name holds the invisible character U+2066: leave it out",
		"a\u2028b":                         "the piece's name holds the invisible character U+2028: leave it out",
		"a\x7fb":                           "the piece's name holds the invisible character U+007F: leave it out",
		"a\xffb":                           "the piece's name is not valid UTF-8 text: type it again",
	} {
		p, err := j.AddPiece(t.Context(), Piece{Name: name, Parts: []Part{{Name: "all"}}}, evening)
		if says != "" {
			if !asked(err) || err.Error() != says {
				t.Errorf("%.20q: %v\n want %s", name, err, says)
			}
			continue
		}
		if err != nil {
			t.Errorf("%.20q: %v", name, err)
			continue
		}
		pieces, err := j.Pieces(t.Context())
		if err != nil || pieces[len(pieces)-1].Name != strings.TrimSpace(name) || pieces[len(pieces)-1].ID != p.ID {
			t.Errorf("%.20q came back as %+v, %v", name, pieces[len(pieces)-1], err)
		}
	}
}

func TestIDs(t *testing.T) {
	for n, id := range map[int64]string{1: "c-0001", 7: "c-0007", 9999: "c-9999", 12345: "c-12345"} {
		if got := coatIDs.of(n); got != id {
			t.Errorf("%d: %s", n, got)
		}
		if got, err := coatIDs.number(id); err != nil || got != n {
			t.Errorf("%s: %d, %v", id, got, err)
		}
	}
	for _, id := range []string{"", "c-", "c-7", "c-00007", "p-0007", "c-0000", "c--001", "c-+001", "c-0007 ", "C-0007", "c-99999999999999999999"} {
		if _, err := coatIDs.number(id); !errors.Is(err, ErrNotFound) {
			t.Errorf("%q: %v", id, err)
		}
	}
	if piece, number, err := partNumbers("p-0003.12"); err != nil || piece != 3 || number != 12 {
		t.Error(piece, number, err)
	}
	for _, id := range []string{"", "p-0003", "p-0003.", "p-0003.02", "p-3.2", "p-0003.x"} {
		if _, _, err := partNumbers(id); !errors.Is(err, ErrNotFound) {
			t.Errorf("%q: %v", id, err)
		}
	}
}

func TestRooms(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	limits := load(t, quietHarbour).Limits
	for i, r := range []Room{{ID: "back-room", Title: "Back room"}, {ID: "1st", Title: "Loft", Limits: &limits}} {
		if err := j.AddRoom(t.Context(), r, evening.Add(time.Duration(i)*time.Second)); err != nil {
			t.Fatal(err)
		}
	}
	rooms, err := j.Rooms(t.Context())
	if d := cmp.Diff([]Room{{ID: "back-room", Title: "Back room"}, {ID: "1st", Title: "Loft", Limits: &limits}}, rooms); d != "" || err != nil {
		t.Error(d, err)
	}
	for name, r := range map[string]Room{
		"taken":    {ID: "back-room", Title: "Other"},
		"capitals": {ID: "Back", Title: "Back"},
		"slash":    {ID: "a/b", Title: "Back"},
		"wildcard": {ID: "#", Title: "Back"},
		"hyphen":   {ID: "-a", Title: "Back"},
		"empty":    {ID: "", Title: "Back"},
		"long":     {ID: strings.Repeat("a", 33), Title: "Back"},
		"no name":  {ID: "attic"},
		"limits":   {ID: "attic", Title: "Attic", Limits: &drying.Limits{AirMin: 30, AirMax: 20}},
	} {
		if err := j.AddRoom(t.Context(), r, evening); !asked(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
