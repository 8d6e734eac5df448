package emulated

import (
	"fmt"
	"time"

	"recoat/sensors"
)

// SHT4x is an emulated SHT40, SHT41, SHT43 or SHT45, alone on a bus of its own.
type SHT4x struct {
	part
	serial  uint32
	t, rh   uint16
	pending []uint16
}

// NewSHT4x returns a chip at addr (0x44 to 0x46), just powered on, in air at
// 20 °C and 50 %.
func NewSHT4x(addr uint16, serial uint32) *SHT4x {
	c := &SHT4x{part: part{kind: "sht4x", addr: addr}, serial: serial}
	c.tx = c.transact
	c.Set(20, 50)
	return c
}

// Set puts the chip in this air, from -45 to 130 °C. The scale of humidity goes
// from -6 to 119 %.
func (c *SHT4x) Set(air sensors.Celsius, rh sensors.RelativeHumidity) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t, c.rh = celsiusWord(float64(air)), count((float64(rh)+6)/125*65535)
}

// BrownOut drops the supply for an instant: a conversion under way is lost.
func (c *SHT4x) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.pending, c.done = nil, time.Time{}
}

func (c *SHT4x) transact(w, r []byte) error {
	switch {
	case len(w) > 1:
		return refused{fmt.Sprintf("a command of %d bytes", len(w))}
	case len(w) == 1 && w[0] == 0xFD:
		c.pending = []uint16{c.t, c.rh}
		c.convert(8 * time.Millisecond)
	case len(w) == 1 && w[0] == 0x89:
		c.pending, c.done = []uint16{uint16(c.serial >> 16), uint16(c.serial)}, time.Time{}
	case len(w) == 1:
		return refused{fmt.Sprintf("command %#02x", w[0])}
	}
	if len(r) == 0 {
		return nil
	}
	if c.pending == nil || c.busy() {
		return refused{"nothing to read yet"}
	}
	words := c.pending
	c.pending = nil
	return putWords(r, words...)
}
