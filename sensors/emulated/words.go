package emulated

import (
	"encoding/binary"
	"fmt"
	"math"
)

// The chips that speak in words of 16 bits, each followed by its check sum:
// SHT3x, SHT4x, HDC302x, SCD4x.

// putWords writes words with their check sums, as many as fit.
func putWords(r []byte, words ...uint16) error {
	if len(r) > 3*len(words) {
		return refused{fmt.Sprintf("%d bytes where there are %d", len(r), 3*len(words))}
	}
	var all []byte
	for _, w := range words {
		b := binary.BigEndian.AppendUint16(nil, w)
		all = append(all, b[0], b[1], wordSum(b))
	}
	copy(r, all)
	return nil
}

// wordSum divides by x⁸+x⁵+x⁴+1 with the register at 0xFF, bit by bit.
func wordSum(bytes []byte) byte { return divide(0x131, 0xFF, bytes) }

// divide returns the rest of a division of polynomials over two elements.
func divide(by, rest uint16, bytes []byte) byte {
	for _, b := range bytes {
		rest ^= uint16(b)
		for range 8 {
			rest <<= 1
			if rest&0x100 != 0 {
				rest ^= by
			}
		}
	}
	return byte(rest)
}

// count returns the whole number nearest to v, within 16 bits.
func count(v float64) uint16 { return uint16(math.Round(min(max(v, 0), 65535))) }

// celsiusWord and percentWord invert -45 + 175 w/65535 and 100 w/65535.
func celsiusWord(t float64) uint16  { return count((t + 45) / 175 * 65535) }
func percentWord(rh float64) uint16 { return count(rh / 100 * 65535) }

// commandOf reads a command of 16 bits.
func commandOf(w []byte) (uint16, error) {
	if len(w) != 2 {
		return 0, refused{fmt.Sprintf("a command of %d bytes", len(w))}
	}
	return binary.BigEndian.Uint16(w), nil
}
