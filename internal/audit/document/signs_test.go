package document

import (
	"testing"

	"golang.org/x/image/font/sfnt"
)

// What a font has is what the reader of the Go project finds in it, for every
// character of the first plane.
func TestSigns(t *testing.T) {
	plain, bold := letters()
	for name, ttf := range map[string][]byte{"plain": plain, "bold": bold} {
		font, err := sfnt.Parse(ttf)
		if err != nil {
			t.Fatal(err)
		}
		found, has := 0, signsOf(ttf)
		for r := range 1 << 16 {
			glyph, err := font.GlyphIndex(nil, rune(r))
			if err != nil {
				t.Fatal(err)
			}
			if got := has.has(uint16(r)); got != (glyph != 0) {
				t.Errorf("%s: %U is there: %v, want %v", name, r, got, glyph != 0)
			}
			if glyph != 0 {
				found++
			}
		}
		if found < 5000 {
			t.Errorf("%s: only %d signs", name, found)
		}
	}
}
