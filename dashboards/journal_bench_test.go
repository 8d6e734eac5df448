package dashboards

import (
	"fmt"
	"net/http"
	"testing"

	"recoat/internal/shop"
)

// BenchmarkPagesOfTenThousandPieces is how long a page takes with ten thousand
// pieces in the journal, all of them in one room.
func BenchmarkPagesOfTenThousandPieces(b *testing.B) {
	j := openBook(b)
	if err := j.AddRoom(b.Context(), shop.Room{ID: "back-room", Title: "Back room"}, evening); err != nil {
		b.Fatal(err)
	}
	for i := range 10_000 {
		p := shop.Piece{Name: fmt.Sprintf("Chair %d", i), Parts: []shop.Part{{Name: "frame", Material: "beech", Room: "back-room"}, {Name: "seat", Room: "back-room"}}}
		if _, err := j.AddPiece(b.Context(), p, evening); err != nil {
			b.Fatal(err)
		}
	}
	h := journalHandler(j)
	for _, page := range []string{"/pieces", "/pieces?q=chair+77", "/pieces/p-5000", "/coats/new", "/"} {
		b.Run(page, func(b *testing.B) {
			for b.Loop() {
				if w := get(h, page); w.Code != http.StatusOK {
					b.Fatalf("status %d", w.Code)
				}
			}
		})
	}
}
