package emulated

import (
	"encoding/binary"
	"fmt"
	"time"

	"recoat/sensors"
)

// HDC302x is an emulated HDC3020, HDC3021 or HDC3022, alone on a bus of its own.
type HDC302x struct {
	part
	t, rh  uint16
	status uint16
	every  time.Duration // between measurements; 0: idle
}

// hdcRates are the commands that set it measuring by itself.
var hdcRates = map[uint16]time.Duration{
	0x2032: 2 * time.Second, 0x2130: time.Second, 0x2236: time.Second / 2, 0x2334: time.Second / 4, 0x2737: time.Second / 10,
}

// NewHDC302x returns a chip at addr (0x44 to 0x47), just powered on, in air at
// 20 °C and 50 %.
func NewHDC302x(addr uint16) *HDC302x {
	c := &HDC302x{part: part{kind: "hdc302x", addr: addr}, status: wordReset}
	c.tx = c.transact
	c.Set(20, 50)
	return c
}

// Set puts the chip in this air, from -45 to 130 °C.
func (c *HDC302x) Set(air sensors.Celsius, rh sensors.RelativeHumidity) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t, c.rh = celsiusWord(float64(air)), percentWord(float64(rh))
}

// BrownOut drops the supply for an instant: the chip stands idle after it.
func (c *HDC302x) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.status, c.every = wordReset, 0
}

func (c *HDC302x) transact(w, r []byte) error {
	if len(w) < 2 {
		return refused{fmt.Sprintf("a command of %d bytes", len(w))}
	}
	switch cmd := binary.BigEndian.Uint16(w); cmd {
	case 0xE000:
		if c.every == 0 || c.busy() {
			return refused{"nothing to read yet"}
		}
		c.convert(c.every)
		return putWords(r, c.t, c.rh)
	case 0xF32D:
		return putWords(r, c.status)
	case 0x3781:
		return putWords(r, 0x3000)
	case 0x3093:
		c.every = 0
	case 0x3041:
		c.status &= wordHeater
	case 0x306D:
		c.status |= wordHeater
	case 0x3066:
		c.status &^= wordHeater
	default:
		return c.measure(cmd)
	}
	return nil
}

// measure takes a rate, unless the chip has one already.
func (c *HDC302x) measure(cmd uint16) error {
	every, known := hdcRates[cmd]
	if !known || c.every != 0 {
		return refused{fmt.Sprintf("command %#04x", cmd)}
	}
	c.every = every
	c.convert(every)
	return nil
}
