package emulated

import (
	"math"
	"time"

	"recoat/sensors"
)

// TMP102 is an emulated chip, alone on a bus of its own.
type TMP102 struct {
	part
	regs registers
	t    int16 // 1/16 °C
	once bool  // a conversion has been asked for while shut down
}

const (
	tmpConversion = 35 * time.Millisecond
	tmpWritable   = 0x9FD0
	tmpShut       = 1 << 8
	tmpOneShot    = 1 << 15
)

// NewTMP102 returns a chip at addr (0x48 to 0x4B), just powered on, at 20 °C.
func NewTMP102(addr uint16) *TMP102 {
	c := &TMP102{part: part{kind: "tmp102", addr: addr}}
	c.tx = c.transact
	c.powerOn()
	c.Set(20)
	return c
}

// Set puts the chip at this temperature, from -55 to 127.9375 °C.
func (c *TMP102) Set(t sensors.Celsius) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = int16(math.Round(min(max(float64(t), -55), 127.9375) * 16))
}

// BrownOut drops the supply for an instant.
func (c *TMP102) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.powerOn()
}

func (c *TMP102) powerOn() {
	c.regs, c.once = registers{mask: 3}, false
	c.regs.words[1], c.regs.words[2], c.regs.words[3] = 0x60A0, 0x4B00, 0x5000
	c.convert(tmpConversion)
}

func (c *TMP102) transact(w, r []byte) error {
	c.finish()
	return c.regs.transact(w, r, func(reg byte, before uint16) {
		switch reg {
		case 0:
			c.regs.words[0] = before // read only
		case 1:
			c.set(c.regs.words[1], before)
		}
	})
}

// set takes a new configuration, and begins a conversion if it asks for one of
// a chip that is shut down.
func (c *TMP102) set(config, before uint16) {
	config = config&tmpWritable | before&^tmpWritable
	switch {
	case config&(tmpShut|tmpOneShot) == tmpShut|tmpOneShot:
		c.once = true
		c.convert(tmpConversion)
	case before&tmpShut != 0 && config&tmpShut == 0:
		c.convert(tmpConversion)
	}
	c.regs.words[1] = config &^ tmpOneShot
}

// finish stores the result of a conversion that has ended.
func (c *TMP102) finish() {
	shut := c.regs.words[1]&tmpShut != 0
	if c.busy() || shut && !c.once {
		return
	}
	c.regs.words[0] = uint16(c.t) << 4
	if shut {
		c.regs.words[1] |= tmpOneShot
	}
}
