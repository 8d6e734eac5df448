package shop

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/shop/compat"
)

// Two phones that change different things of a coat at once lose nothing.
func TestTwoEditsAtOnceLoseNothing(t *testing.T) {
	j := furnished(t)
	c := apply(t, j, "p-0001.1", evening)
	var both sync.WaitGroup
	for _, e := range []CoatEdit{{Film: of(drying.Microns(120))}, {Batch: of("B9")}, {Note: of("a run at the back")}, {Method: of(Roller)}} {
		both.Go(func() {
			if _, err := j.EditCoat(t.Context(), c.ID, e, evening.Add(time.Hour)); err != nil {
				t.Error(err)
			}
		})
	}
	both.Wait()
	got, err := j.Coat(t.Context(), c.ID)
	if err != nil || got.Film != 120 || got.Batch != "B9" || got.Note != "a run at the back" || got.Method != Roller {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestAnEditIsOnRecordAndCanBeUndone(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	c := apply(t, j, "p-0001.1", evening)
	edit := func(e CoatEdit) Coat {
		t.Helper()
		got, err := j.EditCoat(WithTap(ctx, Tap{Who: "Ada Example"}), c.ID, e, evening.Add(time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	edit(CoatEdit{Film: of(drying.Microns(120)), Applied: of(evening.Add(-10 * time.Minute)), Abraded: of(true), Over: of(compat.OilStain)})
	edit(CoatEdit{Film: of(drying.Microns(120))}) // as it is: no change
	history, err := j.ChangesOf(ctx, c.ID)
	if err != nil || len(history) != 2 {
		t.Fatalf("%+v, %v", history, err)
	}
	last := history[1]
	if last.What != "edit the coat" || last.Who != "Ada Example" || !last.At.Equal(evening.Add(time.Hour)) ||
		string(last.Before) != `{"applied":"2026-03-01T21:30:00Z","film_um":0,"abraded":false,"over":""}` || !strings.Contains(string(last.After), `"film_um":120`) {
		t.Errorf("%+v: %s → %s", last, last.Before, last.After)
	}
	edit(CoatEdit{Batch: of("B9")})
	if err := j.UndoEdit(ctx, last.Seq, evening.Add(2*time.Hour)); err != nil {
		t.Fatal(err)
	}
	got, err := j.Coat(ctx, c.ID)
	if err != nil || got.Film != 0 || got.Batch != "B9" || got.Abraded || !got.Applied.Equal(evening) || got.Over != "" {
		t.Errorf("undone: %+v, %v", got, err)
	}
	if err := j.UndoEdit(ctx, last.Seq, evening.Add(3*time.Hour)); !asked(err) || !strings.Contains(err.Error(), "changed") {
		t.Errorf("undone twice: %v", err)
	}
	if err := j.UndoEdit(ctx, 1, evening); !asked(err) {
		t.Errorf("undoing what is no edit: %v", err)
	}
	if err := j.UndoEdit(ctx, 999, evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}

func TestAnEditKeepsTheCoatAsItCanBe(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	c, other := apply(t, j, "p-0001.1", evening), apply(t, j, "p-0001.1", evening.Add(time.Hour))
	later := evening.Add(4 * time.Hour)
	if _, err := j.AddTouch(ctx, Touch{Coat: c.ID, At: evening.Add(30 * time.Minute), Feel: Wet}, later); err != nil {
		t.Fatal(err)
	}
	for says, e := range map[string]CoatEdit{
		"is recorded already":       {Applied: of(other.Applied)},
		"after a touch test of it":  {Applied: of(evening.Add(45 * time.Minute))},
		"the film of 9000 µm":       {Film: of(drying.Microns(9000))},
		"the method is none":        {Method: of(Method("broom"))},
		"no product has the id":     {Product: of("f-0009")},
		"has no version 7":          {Version: of(int64(7))},
		"no can on the shelf has":   {Can: of("s-0009")},
		"the note has 501":          {Note: of(strings.Repeat("x", 501))},
		"the area of -1 m² cannot":  {AreaM2: of(-1.0)},
		`"gold" is no class`:        {Class: of(compat.Class("gold"))},
		"the thinner of 300 % cann": {ThinnedPct: of(300.0)},
	} {
		if _, err := j.EditCoat(ctx, c.ID, e, later); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	if err := j.UndoCoat(ctx, other.ID, later); err != nil {
		t.Fatal(err)
	}
	if _, err := j.EditCoat(ctx, other.ID, CoatEdit{Note: of("x")}, later); !asked(err) {
		t.Errorf("of an undone coat: %v", err)
	}
}

func TestACoatOfTheWrongProductIsPutRight(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	c := apply(t, j, "p-0001.1", evening)
	second, err := j.PutProduct(ctx, load(t, strings.Replace(quietHarbour, "Quiet Harbour colour coat", "Grey Quay clear", 1)), evening)
	if err != nil {
		t.Fatal(err)
	}
	got, err := j.EditCoat(ctx, c.ID, CoatEdit{Product: of(second.ID)}, evening)
	if err != nil || got.Product.Label.Name != "Grey Quay clear" {
		t.Errorf("%+v, %v", got.Product, err)
	}
}

func TestProductsByAnotherName(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	c := apply(t, j, "p-0001.1", evening)
	renamed := strings.Replace(quietHarbour, "Quiet Harbour colour coat", "Quiet Harbour, new recipe", 1)
	p, err := j.EditProduct(ctx, "f-0001", load(t, renamed), evening)
	if err != nil || p.ID != "f-0001" || p.Version != 2 || p.Label.Name != "Quiet Harbour, new recipe" {
		t.Fatalf("%+v, %v", p, err)
	}
	if old, err := j.Coat(ctx, c.ID); err != nil || old.Product.Label.Name != "Quiet Harbour colour coat" {
		t.Errorf("the coat's product is now %s, %v", old.Product.Label.Name, err)
	}
	again, err := j.PutProduct(ctx, load(t, quietHarbour), evening)
	if err != nil || again.ID != "f-0002" || again.Version != 1 {
		t.Errorf("a product of the old name: %s, version %d, %v", again.ID, again.Version, err)
	}
	if _, err := j.EditProduct(ctx, "f-0002", load(t, renamed), evening); !asked(err) || !strings.Contains(err.Error(), "that of f-0001 already") {
		t.Errorf("a name that is taken: %v", err)
	}
	if _, err := j.EditProduct(ctx, "f-0009", load(t, strings.Replace(quietHarbour, "Quiet", "Loud", 1)), evening); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}

func TestPiecesAndPartsAreEdited(t *testing.T) {
	j := furnished(t)
	ctx := t.Context()
	photo := strings.Repeat("ab", 32)
	p, err := j.EditPiece(ctx, "p-0001", PieceEdit{Name: of("Tall dresser"), Client: of("collects on Friday"), Photo: &photo, Delivered: of(evening)}, evening)
	if err != nil || p.Name != "Tall dresser" || p.Client != "collects on Friday" || p.Photo != photo || !p.Delivered.Equal(evening) {
		t.Errorf("%+v, %v", p, err)
	}
	if p, err = j.EditPart(ctx, "p-0001.2", PartEdit{Material: of("ash"), ThicknessMM: of(15.0)}, evening); err != nil || p.Parts[1].Material != "ash" || p.Parts[1].ThicknessMM != 15 {
		t.Errorf("%+v, %v", p, err)
	}
	history, err := j.ChangesOf(ctx, "p-0001")
	if err != nil || len(history) != 2 {
		t.Fatal(history, err)
	}
	if err := j.UndoEdit(ctx, history[1].Seq, evening); err != nil {
		t.Fatal(err)
	}
	if p, err = j.Piece(ctx, "p-0001"); err != nil || p.Name != "Dresser" || p.Client != "" || p.Photo != "" || !p.Delivered.IsZero() || p.Parts[1].Material != "ash" {
		t.Errorf("undone: %+v, %v", p, err)
	}
	for says, e := range map[string]PieceEdit{
		"is empty":                {Name: of(" ")},
		"64 hexadecimal digits":   {Photo: of("../../etc/passwd")},
		"time of delivery lies":   {Delivered: of(evening.Add(time.Hour))},
		"the invisible character": {Note: of("a\u202eb")},
	} {
		if _, err := j.EditPiece(ctx, "p-0001", e, evening); !asked(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%v\n want %s", err, says)
		}
	}
	if _, err := j.EditPart(ctx, "p-0001.2", PartEdit{ThicknessMM: of(-1.0)}, evening); !asked(err) {
		t.Error(err)
	}
}
