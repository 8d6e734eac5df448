package backend

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/dashboards"
	"recoat/internal/shop"
)

var _ dashboards.Journal = Journal{}

const label = `
name = "Coldharbour clear coat"
family = "waterborne"
[stated]
air = "23C"
rh = 50
recoat = "2h"
`

// pages is a journal with a chest of two parts, one of which is in a room, seen
// from the pages at noon.
func pages(t *testing.T) (Journal, *shop.Journal) {
	t.Helper()
	j, err := shop.OpenJournal(t.Context(), filepath.Join(t.TempDir(), "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	if err := j.AddRoom(t.Context(), shop.Room{ID: "back-room", Title: "Back room"}, noon); err != nil {
		t.Fatal(err)
	}
	product, err := shop.LoadProduct(strings.NewReader(label), "label")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := j.PutProduct(t.Context(), product, noon); err != nil {
		t.Fatal(err)
	}
	_, err = j.AddPiece(t.Context(), shop.Piece{Name: "Chest", Parts: []shop.Part{{Name: "lid", Room: "back-room"}, {Name: "base"}}}, noon)
	if err != nil {
		t.Fatal(err)
	}
	p := NewJournal(j)
	p.now = func() time.Time { return noon }
	return p, j
}

func TestWhatIsDoneInThePagesStandsInTheJournal(t *testing.T) {
	p, j := pages(t)
	choices, err := p.Choices(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := dashboards.Choices{
		Parts:    []dashboards.Choice{{ID: "p-0001.1", Label: "Chest, lid"}},
		Products: []dashboards.Choice{{ID: "f-0001", Label: "Coldharbour clear coat"}},
	}
	if diff := cmp.Diff(want, choices); diff != "" {
		t.Fatal(diff)
	}
	applied := noon.Add(-time.Hour)
	if err := p.ApplyCoat(t.Context(), dashboards.CoatRequest{Part: choices.Parts[0].ID, Product: choices.Products[0].ID, Film: 90, At: applied}); err != nil {
		t.Fatal(err)
	}
	coats, err := j.OpenCoats(t.Context(), "back-room")
	if err != nil || len(coats) != 1 {
		t.Fatalf("%+v, %v", coats, err)
	}
	c := coats[0]
	if c.Part.Name != "lid" || c.Film != 90 || !c.Applied.Equal(applied) || !c.Recorded.Equal(noon) || c.Product.Label.Name != "Coldharbour clear coat" {
		t.Errorf("%+v", c)
	}
	if err := p.AddTouch(t.Context(), dashboards.TouchRequest{Coat: c.ID, Found: "tacky", At: noon.Add(-time.Minute)}); err != nil {
		t.Fatal(err)
	}
	touches, err := j.Touches(t.Context(), c.ID)
	if err != nil || len(touches) != 1 || touches[0].Feel != shop.Tacky || !touches[0].At.Equal(noon.Add(-time.Minute)) {
		t.Errorf("%+v, %v", touches, err)
	}
}

// The pages tell a person's mistake from a fault by the error's kind.
func TestAMistakeInThePagesIsTheJournalsToExplain(t *testing.T) {
	p, j := pages(t)
	for name, err := range map[string]error{
		"a coat of tomorrow":     p.ApplyCoat(t.Context(), dashboards.CoatRequest{Part: "p-0001.1", Product: "f-0001", At: noon.Add(24 * time.Hour)}),
		"a part in no room":      p.ApplyCoat(t.Context(), dashboards.CoatRequest{Part: "p-0001.2", Product: "f-0001", At: noon}),
		"a touch of a new kind":  p.AddTouch(t.Context(), dashboards.TouchRequest{Coat: "c-0001", Found: "slimy", At: noon}),
		"a film as thick as mud": p.ApplyCoat(t.Context(), dashboards.CoatRequest{Part: "p-0001.1", Product: "f-0001", Film: 1e7, At: noon}),
	} {
		var input *shop.InputError
		if !errors.As(err, &input) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := p.AddTouch(t.Context(), dashboards.TouchRequest{Coat: "c-0001", Found: "dry", At: noon}); !errors.Is(err, shop.ErrNotFound) {
		t.Errorf("a touch of a coat that is not there: %v", err)
	}
	if coats, err := j.OpenCoats(t.Context(), "back-room"); err != nil || len(coats) != 0 {
		t.Errorf("%+v, %v", coats, err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Choices(t.Context()); err == nil {
		t.Error("a journal that is closed gives choices")
	}
}
