package emulated

import (
	"fmt"
	"time"

	"recoat/sensors"
)

// SHT3x is an emulated SHT30, SHT31 or SHT35, alone on a bus of its own.
type SHT3x struct {
	part
	serial  uint32
	t, rh   uint16
	status  uint16
	pending []uint16 // what the next read gets
}

const (
	wordHeater = 1 << 13
	wordReset  = 1 << 4
	wordWrong  = 1 << 1 // the last command was not understood
)

// NewSHT3x returns a chip at addr (0x44 or 0x45), just powered on, in air at
// 20 °C and 50 %.
func NewSHT3x(addr uint16, serial uint32) *SHT3x {
	c := &SHT3x{part: part{kind: "sht3x", addr: addr}, serial: serial, status: wordReset}
	c.tx = c.transact
	c.Set(20, 50)
	return c
}

// Set puts the chip in this air, from -45 to 130 °C.
func (c *SHT3x) Set(air sensors.Celsius, rh sensors.RelativeHumidity) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t, c.rh = celsiusWord(float64(air)), percentWord(float64(rh))
}

// BrownOut drops the supply for an instant.
func (c *SHT3x) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.status, c.pending, c.done = wordReset, nil, time.Time{}
}

func (c *SHT3x) transact(w, r []byte) error {
	if len(w) > 0 {
		cmd, err := commandOf(w)
		if err != nil {
			return err
		}
		if err := c.obey(cmd); err != nil {
			return err
		}
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

func (c *SHT3x) obey(cmd uint16) error {
	c.pending, c.done = nil, time.Time{}
	switch cmd {
	case 0x2400:
		c.pending = []uint16{c.t, c.rh}
		c.convert(15 * time.Millisecond)
	case 0xF32D:
		c.pending = []uint16{c.status}
	case 0x3041:
		c.status &= wordHeater
	case 0x3780:
		c.pending = []uint16{uint16(c.serial >> 16), uint16(c.serial)}
	case 0x306D:
		c.status |= wordHeater
	case 0x3066:
		c.status &^= wordHeater
	default:
		c.status |= wordWrong
		return refused{fmt.Sprintf("command %#04x", cmd)}
	}
	return nil
}
