package document

import (
	"encoding/binary"
	"sort"
)

// signs says which characters a font has a glyph for, from its table "cmap" in
// format 4 (OpenType 1.9, "cmap"): stretches of characters, in order, each with
// its own way to a glyph. The font is one that is built in, so that a table that
// is cut short is a fault of the program.
type signs struct {
	stretches            int
	ends, starts, deltas []byte
	offsets              []byte // of the glyphs, and behind them the glyphs
}

const unicodeFormat = 4

func signsOf(font []byte) *signs {
	table := tableOf(font, "cmap")
	for i := range int(u16(table, 2)) {
		sub := table[binary.BigEndian.Uint32(table[4+8*i+4:]):]
		if u16(sub, 0) == unicodeFormat {
			sub = sub[:u16(sub, 2)]
			n := int(u16(sub, 6)) / 2
			return &signs{stretches: n, ends: sub[14:], starts: sub[16+2*n:], deltas: sub[16+4*n:], offsets: sub[16+6*n:]}
		}
	}
	panic("document: the font in the program does not say which signs it has")
}

func tableOf(font []byte, name string) []byte {
	for i := range int(u16(font, 4)) {
		entry := font[12+16*i:]
		if string(entry[:4]) == name {
			return font[binary.BigEndian.Uint32(entry[8:]):]
		}
	}
	panic("document: the font in the program has no table " + name)
}

// has reports whether a character has a glyph of its own.
func (s *signs) has(r uint16) bool {
	i := sort.Search(s.stretches, func(i int) bool { return u16(s.ends, 2*i) >= r })
	if i == s.stretches || u16(s.starts, 2*i) > r {
		return false
	}
	delta, offset := u16(s.deltas, 2*i), int(u16(s.offsets, 2*i))
	if offset == 0 {
		return r+delta != 0
	}
	glyph := u16(s.offsets, 2*i+offset+2*int(r-u16(s.starts, 2*i)))
	return glyph != 0 && glyph+delta != 0
}

func u16(b []byte, at int) uint16 { return binary.BigEndian.Uint16(b[at:]) }
