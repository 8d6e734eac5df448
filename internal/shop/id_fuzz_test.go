package shop

import (
	"encoding/json"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// An id is read only as it is written: one thing has one.
func FuzzIDs(f *testing.F) {
	for _, id := range []string{"c-0007", "p-0003.2", "p-3.2", "c-00007", "c-9223372036854775807", "c--001", "c-٠٠٠٧", "p-0003.+2", "p-0003.0", "p-0003.-1"} {
		f.Add(id)
	}
	f.Fuzz(func(t *testing.T, id string) {
		for _, k := range []ids{productIDs, pieceIDs, coatIDs, touchIDs, mixIDs, canIDs, moistureIDs, calibrationIDs, defectIDs} {
			if n, err := k.number(id); err == nil && (n < 1 || k.of(n) != id) {
				t.Fatalf("%q is %s %d", id, k.noun, n)
			}
		}
		if piece, number, err := partNumbers(id); err == nil && (piece < 1 || number < 1 || partID(piece, number) != id) {
			t.Fatalf("%q is part %d of piece %d", id, number, piece)
		}
	})
}

// What the record of changes holds of an edit is that edit when it is taken back.
func FuzzEdits(f *testing.F) {
	f.Add([]byte(`{"product":"f-0001","version":2,"applied":"2026-03-01T21:30:00Z","film_um":100,"abraded":true,"over":"waterborne"}`))
	f.Add([]byte(`{"name":"press","delivered":"0001-01-01T00:00:00Z","thickness_mm":1e308}`))
	f.Add([]byte(`{"film_um":1e999}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, text []byte) {
		goesBack[CoatEdit](t, text)
		goesBack[PieceEdit](t, text)
		goesBack[PartEdit](t, text)
	})
}

func goesBack[E any](t *testing.T, text []byte) {
	var e, back E
	if undo(&Change{Before: text}, func(before E) error { e = before; return nil }) != nil {
		return
	}
	again, err := json.Marshal(e)
	if err == nil {
		err = json.Unmarshal(again, &back)
	}
	if diff := cmp.Diff(e, back); err != nil || diff != "" {
		t.Fatalf("%s came back as %s: %v\n%s", text, again, err, diff)
	}
}
