package emulated

import (
	"math"
	"time"

	"recoat/sensors"
)

// MCP9808 is an emulated chip, alone on a bus of its own.
type MCP9808 struct {
	part
	regs registers
	t    int16 // 1/16 °C
}

const (
	mcpConfig      = 1
	mcpTemperature = 5
	mcpMaker       = 6
	mcpDevice      = 7
	mcpResolution  = 8

	mcpConversion = 250 * time.Millisecond
)

// NewMCP9808 returns a chip at addr (0x18 to 0x1F), just powered on, at 20 °C.
func NewMCP9808(addr uint16) *MCP9808 {
	c := &MCP9808{part: part{kind: "mcp9808", addr: addr}}
	c.tx = c.transact
	c.powerOn()
	c.Set(20)
	return c
}

// Set puts the chip at this temperature, from -40 to 125 °C.
func (c *MCP9808) Set(t sensors.Celsius) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = int16(math.Round(min(max(float64(t), -40), 125) * 16))
}

// BrownOut drops the supply for an instant: the register holds zero until the
// next conversion ends.
func (c *MCP9808) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.powerOn()
}

func (c *MCP9808) powerOn() {
	c.regs = registers{mask: 0xF}
	c.regs.words[mcpMaker], c.regs.words[mcpDevice] = 0x0054, 0x0400
	c.regs.words[mcpResolution] = 3 << 8 // one byte wide
	c.convert(mcpConversion)
}

func (c *MCP9808) transact(w, r []byte) error {
	if len(w) == 2 && w[0] == mcpResolution {
		w = []byte{mcpResolution, w[1], 0}
	}
	shut := c.regs.words[mcpConfig]&0x0100 != 0
	if !shut && !c.busy() {
		c.regs.words[mcpTemperature] = c.shown()
	}
	return c.regs.transact(w, r, nil)
}

// shown is the register after a conversion: 13 bits with a sign below the flags
// of limits that stand at 0 °C.
func (c *MCP9808) shown() uint16 {
	v := uint16(c.t) & 0x1FFF
	if c.t >= 0 {
		v |= 1 << 15
	}
	if c.t > 0 {
		v |= 1 << 14
	}
	if c.t < 0 {
		v |= 1 << 13
	}
	return v
}
