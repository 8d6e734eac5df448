package dashboards

import (
	"testing"
	"time"

	"recoat/drying"
	"recoat/internal/room"
	"recoat/internal/shop"
)

// A new shop is led on from its home page, step by step, until the first coat is
// noted; a shop whose pieces are all delivered is no new one.
func TestANewShopIsLedToItsFirstCoat(t *testing.T) {
	j := openBook(t)
	h := handler(newHouse(room.Snapshot{Room: "back-room", Title: "Back room", At: evening}), bookOf(j))
	wantProse(t, get(h, "/"), "0 of 4 steps to the first coat are done.", "Next: A sensor in the room.", "All the steps")
	h = handler(newHouse(backRoom(evening)), bookOf(j))
	wantProse(t, get(h, "/"), "1 of 4 steps to the first coat are done.", "Next: The label of what you use.", "Copy a label")
	wantProse(t, get(h, "/plan"), "No product is in the journal yet.", "Copy a label")
	ctx := t.Context()
	product, err := j.PutProduct(ctx, quietHarbour(), evening)
	if err != nil {
		t.Fatal(err)
	}
	wantProse(t, get(h, "/"), "2 of 4 steps", "Next: The piece on the bench.", "Add a piece")
	if err := j.AddRoom(ctx, shop.Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		t.Fatal(err)
	}
	piece, err := j.AddPiece(ctx, shop.Piece{Name: "Linen press", Parts: []shop.Part{{Name: "doors", Room: "back-room"}}}, evening)
	if err != nil {
		t.Fatal(err)
	}
	wantProse(t, get(h, "/"), "3 of 4 steps", "Next: The first coat.", "Note a coat")
	if _, err := j.ApplyCoat(ctx, shop.Application{Part: piece.Parts[0].ID, Product: product.ID, Applied: evening, Film: drying.Microns(100)}, evening.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if missing := missingFrom(prose(get(h, "/")), []string{"to the first coat"}); len(missing) == 0 {
		t.Error("with its first coat noted, the shop is still led to it")
	}
	if page := prose(get(h, "/setup")); len(missingFrom(page, []string{"The first coat done"})) > 0 {
		t.Errorf("Setup does not know of a coat that no room follows: %s", page)
	}
}
