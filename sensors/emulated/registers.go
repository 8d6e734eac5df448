package emulated

import (
	"encoding/binary"
	"fmt"
)

// registers is the memory of a chip that is asked by a pointer and a word of 16
// bits: MCP9808, TMP102, ADS1115.
type registers struct {
	words   [16]uint16
	mask    byte // bits of the pointer that count
	pointer byte
}

// transact runs a transaction: the pointer, then a word out or in. wrote, unless
// nil, is told of a write, with what was there before.
func (m *registers) transact(w, r []byte, wrote func(reg byte, before uint16)) error {
	switch len(w) {
	case 0:
	case 1:
		m.pointer = w[0] & m.mask
	case 3:
		m.pointer = w[0] & m.mask
		before := m.words[m.pointer]
		m.words[m.pointer] = binary.BigEndian.Uint16(w[1:])
		if wrote != nil {
			wrote(m.pointer, before)
		}
	default:
		return refused{fmt.Sprintf("a write of %d bytes", len(w))}
	}
	word := binary.BigEndian.AppendUint16(nil, m.words[m.pointer])
	for i := range r {
		r[i] = word[i%2]
	}
	return nil
}
