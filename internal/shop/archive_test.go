package shop

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestArchivingHidesAndLosesNothing(t *testing.T) {
	j := lived(t)
	ctx := t.Context()
	counts := func() [4]int {
		t.Helper()
		pieces, e1 := j.Pieces(ctx)
		products, e2 := j.Products(ctx)
		mixes, e3 := j.Mixes(ctx)
		cans, e4 := j.Cans(ctx, "")
		if err := errors.Join(e1, e2, e3, e4); err != nil {
			t.Fatal(err)
		}
		return [4]int{len(pieces), len(products), len(mixes), len(cans)}
	}
	all := []string{"p-0001", "f-0001", "m-0001", "s-0001"}
	for _, id := range all {
		if err := j.Archive(ctx, id, evening.Add(5*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if got := counts(); got != [4]int{} {
		t.Errorf("in the archive: %v are listed", got)
	}
	for kind, id := range map[string]string{"product": "f-0001", "mix": "m-0001", "can": "s-0001"} {
		if filed, err := j.Filed(ctx, kind); err != nil || len(filed) == 0 || filed[0].ID != id || filed[0].Name == "" || !filed[0].Since.Equal(evening.Add(5*time.Hour)) {
			t.Errorf("the archive of a %s: %+v, %v", kind, filed, err)
		}
	}
	if _, err := j.Filed(ctx, "piece"); !errors.Is(err, ErrNotFound) {
		t.Errorf("pieces are searched, yet: %v", err)
	}
	if c, err := j.Coat(ctx, "c-0001"); err != nil || c.Product.Label.Name == "" {
		t.Errorf("a coat of an archived product: %+v, %v", c.Product, err)
	}
	if open, err := j.OpenCoats(ctx, "back-room"); err != nil || len(open) != 0 {
		t.Errorf("the coats of an archived piece: %v, %v", open, err)
	}
	if p, err := j.Piece(ctx, "p-0001"); err != nil || !p.Archived.Equal(evening.Add(5*time.Hour)) {
		t.Errorf("%+v, %v", p, err)
	}
	if listed, err := j.ListPieces(ctx, PieceFilter{Archived: true}); err != nil || len(listed) != 1 {
		t.Errorf("%v, %v", listed, err)
	}
	for _, id := range all {
		if err := j.Unarchive(ctx, id, evening.Add(6*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	if got := counts(); got != [4]int{1, 1, 1, 1} {
		t.Errorf("out of the archive: %v are listed", got)
	}
	if err := j.Archive(ctx, "p-0001", evening); err != nil {
		t.Fatal(err)
	}
	before := len(changes(t, j, 0))
	if err := j.Archive(ctx, "p-0001", evening); err != nil || len(changes(t, j, 0)) != before {
		t.Errorf("twice: %v", err)
	}
	for _, id := range []string{"p-0099", "c-0001", "x", ""} {
		if err := j.Archive(ctx, id, evening); !errors.Is(err, ErrNotFound) {
			t.Errorf("%q: %v", id, err)
		}
	}
}

func TestAProductPutAgainComesOutOfTheArchive(t *testing.T) {
	j := furnished(t)
	if err := j.Archive(t.Context(), "f-0001", evening); err != nil {
		t.Fatal(err)
	}
	p, err := j.PutProduct(t.Context(), load(t, quietHarbour), evening)
	if err != nil || p.Version != 1 || !p.Archived.IsZero() {
		t.Errorf("%+v, %v", p, err)
	}
}

func TestSearch(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	add := func(p Piece) string {
		t.Helper()
		got, err := j.AddPiece(ctx, p, evening)
		if err != nil {
			t.Fatal(err)
		}
		return got.ID
	}
	press := add(Piece{Name: "Wäschepresse ÄÖÜ", Note: "from the attic", Client: "for Mira", Parts: []Part{{Name: "doors", Material: "100%_elm", Room: "back-room"}}})
	stool := add(Piece{Name: "כיסא", Parts: []Part{{Name: "seat"}}})
	if _, err := j.ApplyCoat(ctx, Application{Part: press + ".1", Product: "f-0001", Applied: evening, Batch: "Q-77"}, evening); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string][]string{
		"":              {stool, press, "p-0001"},
		"wäsche":        {press},
		"äöü":           {press},
		"ATTIC":         {press},
		"mira":          {press},
		"DRAWER FRONTS": {"p-0001"},
		"100%_elm":      {press},
		"%":             {press},
		"quiet harbour": {press},
		"q-7":           {press},
		"-77":           {},
		"כיסא":          {stool},
		"nowhere":       {},
	} {
		found, err := j.ListPieces(ctx, PieceFilter{Text: text})
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		ids := []string{}
		for _, p := range found {
			ids = append(ids, p.ID)
		}
		if !slices.Equal(ids, want) {
			t.Errorf("%q: %v, want %v", text, ids, want)
		}
	}
	if page, err := j.ListPieces(ctx, PieceFilter{Before: stool, Limit: 1}); err != nil || len(page) != 1 || page[0].ID != press {
		t.Errorf("%+v, %v", page, err)
	}
	if _, err := j.ListPieces(ctx, PieceFilter{Text: strings.Repeat("x", 2<<20)}); !asked(err) {
		t.Error(err)
	}
	if _, err := j.EditPiece(ctx, press, PieceEdit{Name: of("Mangle")}, evening); err != nil {
		t.Fatal(err)
	}
	if found, err := j.ListPieces(ctx, PieceFilter{Text: "mangle"}); err != nil || len(found) != 1 {
		t.Errorf("by its new name: %+v, %v", found, err)
	}
}

// A name may hold markup, which is only text, and letters that run from right
// to left; marks that turn other text round are refused.
func TestNamesThatLookLikeSomethingElse(t *testing.T) {
	j := furnished(t)
	for name, ok := range map[string]bool{
		`<script>alert("x")</script>`: true,
		"שולחן كرسي":                  true,
		"top\u202edne":                false,
		"\u2067x\u2069":               false,
		strings.Repeat("x", 2<<20):    false,
		"\xff":                        false,
	} {
		p, err := j.AddPiece(t.Context(), Piece{Name: name, Parts: []Part{{Name: "top"}}}, evening)
		if ok && (err != nil || p.Name != name) || !ok && !asked(err) {
			t.Errorf("%.40q: %v", name, err)
		}
	}
	if _, err := j.EditPiece(t.Context(), "p-0001", PieceEdit{Note: of(strings.Repeat("n", 2<<20))}, evening); !asked(err) || !strings.Contains(err.Error(), "at most 500 fit") {
		t.Errorf("a note of 2 MB: %v", err)
	}
}

// stocked is a journal of n pieces with three parts, a schedule and two coats
// each.
func stocked(t testing.TB, j *Journal, n int) {
	t.Helper()
	tx, err := j.db.Write.Begin()
	if err != nil {
		t.Fatal(err)
	}
	do := func(statement string, args ...any) {
		t.Helper()
		if _, err := tx.Exec(statement, args...); err != nil {
			t.Fatal(err)
		}
	}
	steps := `[{"id":1,"kind":"sand"},{"id":2,"kind":"colour"},{"id":3,"kind":"colour","waits":[{"step":2,"stage":"dry-to-recoat"}]}]`
	for i := range n {
		id := i + 2
		name := fmt.Sprintf("Sideboard %d", i)
		do(`INSERT INTO piece(id, name, added, search) VALUES (?, ?, ?, ?)`, id, name, evening.UnixMilli(), strings.ToLower(name)+"\ntop\nsides\ndoors")
		for part, partName := range []string{"top", "sides", "doors"} {
			do(`INSERT INTO part(piece, number, name, material, thickness_mm, room, probe) VALUES (?, ?, ?, 'oak', 20, 'back-room', '')`, id, part+1, partName)
			do(`INSERT INTO schedule(piece, part, template, steps) VALUES (?, ?, '', ?)`, id, part+1, steps)
		}
		for coat := range 2 {
			do(`INSERT INTO coat(piece, part, product, version, room, applied, film_um, method, batch, mix, recorded, step) VALUES (?, 1, 1, 1, 'back-room', ?, 100, 'brush', ?, '', ?, ?)`,
				id, evening.UnixMilli()+int64(coat), fmt.Sprintf("B%d", i), evening.UnixMilli(), coat+2)
		}
		if i%20 != 0 {
			do(`UPDATE piece SET delivered = ? WHERE id = ?`, evening.UnixMilli(), id)
		}
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
}

// Every list is found by an index, however much the journal holds: its plan
// reads no table from end to end but the one of what pieces are found by, of
// which it reads one column.
func TestListsAreFoundByAnIndex(t *testing.T) {
	j := furnished(t)
	stocked(t, j, 300)
	if _, err := j.db.Write.Exec(`ANALYZE`); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		query string
		args  []any
		scans []string
	}{
		"a page of pieces":   {`SELECT id FROM piece AS found WHERE found.archived IS NULL AND found.id < ? ORDER BY id DESC LIMIT ?`, []any{1000, 50}, []string{}},
		"the coats of part":  {selectCoat + ` WHERE coat.piece = ? AND coat.part = ?` + coatOrder, []any{5, 1}, []string{}},
		"coats in a time":    {selectCoat + ` WHERE coat.applied >= ? AND coat.applied < ?` + coatOrder, []any{5, 6}, []string{}},
		"history of one":     {`SELECT seq FROM change WHERE subject = ? ORDER BY seq`, []any{"c-0001"}, []string{}},
		"pieces of a batch":  {`SELECT piece FROM coat WHERE undone IS NULL AND batch <> '' AND batch LIKE ? ESCAPE '\'`, []any{"B2%"}, []string{}},
		"a tap taken before": {`SELECT subject, what FROM change WHERE tap = ? AND tap <> ''`, []any{"phone-1"}, []string{}},
	} {
		var scans []string
		_, err := queryRows(t.Context(), j.db.Read, func(scan scanner) (struct{}, error) {
			var id, parent, unused int
			var detail string
			err := scan(&id, &parent, &unused, &detail)
			if strings.HasPrefix(detail, "SCAN") && !strings.Contains(detail, "INDEX") {
				scans = append(scans, detail)
			}
			return struct{}{}, err
		}, `EXPLAIN QUERY PLAN `+c.query, c.args...)
		if err != nil || !slices.Equal(append([]string{}, scans...), c.scans) {
			t.Errorf("%s: %v, %v", name, scans, err)
		}
	}
}

// Prints how long the lists of 10,000 pieces take.
func BenchmarkLists(b *testing.B) {
	j, err := OpenJournal(b.Context(), b.TempDir()+"/journal.db")
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	if err := j.AddRoom(b.Context(), Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		b.Fatal(err)
	}
	p, err := LoadProduct(strings.NewReader(quietHarbour), "harbour")
	if err != nil {
		b.Fatal(err)
	}
	if _, err := j.PutProduct(b.Context(), p, evening); err != nil {
		b.Fatal(err)
	}
	stocked(b, j, 10000)
	for name, list := range map[string]func() error{
		"page": func() error { _, err := j.ListPieces(b.Context(), PieceFilter{Limit: 50}); return err },
		"search": func() error {
			_, err := j.ListPieces(b.Context(), PieceFilter{Text: "sideboard 77", Limit: 50})
			return err
		},
		"product": func() error { _, err := j.ListPieces(b.Context(), PieceFilter{Text: "harbour", Limit: 50}); return err },
		"nothing": func() error { _, err := j.ListPieces(b.Context(), PieceFilter{Text: "no such thing"}); return err },
		"coats":   func() error { _, err := j.OpenCoats(b.Context(), "back-room"); return err },
		"open":    func() error { _, err := j.OpenPieces(b.Context(), "back-room"); return err },
		"next":    func() error { _, err := j.Schedules(b.Context(), "p-7777"); return err },
		"default": func() error { _, err := j.CoatDefaults(b.Context(), "p-7777.2", "", evening); return err },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := list(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
