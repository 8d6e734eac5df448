package emulated

import (
	"fmt"
	"slices"
	"sync"

	"periph.io/x/conn/v3/physic"

	"recoat/sensors"
)

// The registers of a BME280 (BST-BME280-DS002, section 5.3).
const (
	regID       = 0xD0
	regReset    = 0xE0
	regCtrlHum  = 0xF2
	regStatus   = 0xF3
	regCtrlMeas = 0xF4
	regConfig   = 0xF5
	regData     = 0xF7

	chipID    = 0x60
	resetWord = 0xB6
	measuring = 1 << 3
)

// BME280 is an emulated chip, alone on a bus of its own: it satisfies the
// i2c.Bus of periph.io/x/conn/v3, and may be attached to an I2CBus.
type BME280 struct {
	addr uint16

	mu      sync.Mutex
	cal     Calibration
	regs    [256]byte
	t, p, h uint32 // what the converters would find now
	latched byte   // ctrl_hum as it stood when ctrl_meas was last written
	polls   int    // status reads until the conversion under way ends
	faults  Faults
}

// NewBME280 returns a chip at addr (0x76 or 0x77), just powered on, in air at
// 20 °C, 50 % and standard pressure.
func NewBME280(addr uint16, cal Calibration) *BME280 {
	c := &BME280{addr: addr, cal: cal}
	c.powerOn()
	c.Set(20, 50, sensors.StandardPressure)
	return c
}

// Set puts the chip in this air. What it reports changes with the next
// conversion. Its steps are about 0.0003 °C, 0.006 % and 0.2 Pa.
func (c *BME280) Set(air sensors.Celsius, rh sensors.RelativeHumidity, p sensors.Pascals) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t, c.p, c.h = c.cal.raws(float64(air), float64(rh), float64(p))
}

// BrownOut drops the supply for an instant: every register goes back to its
// power-on state, and nobody is told.
func (c *BME280) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.powerOn()
}

func (c *BME280) powerOn() {
	clear(c.regs[:])
	c.cal.store(&c.regs)
	c.regs[regID] = chipID
	c.latched, c.polls = 0, 0
	c.convert(0)
}

// Tx runs one transaction: a write of pairs of register and value, or a read
// that starts at the register written and counts up.
func (c *BME280) Tx(addr uint16, w, r []byte) error {
	faults := c.currentFaults()
	faults.hold()
	if addr != c.addr || faults.NoAnswer {
		return noAnswer(c.String(), addr)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case len(w) == 1 && len(r) > 0:
		c.read(w[0], r)
	case len(w) > 0 && len(w)%2 == 0 && len(r) == 0:
		for pair := range slices.Chunk(w, 2) {
			c.write(pair[0], pair[1])
		}
	default:
		return fmt.Errorf("%s: the chip knows no transfer of %d bytes out and %d in", c, len(w), len(r))
	}
	return nil
}

// SetSpeed accepts every speed.
func (c *BME280) SetSpeed(physic.Frequency) error { return nil }

// String names the chip.
func (c *BME280) String() string { return fmt.Sprintf("emulated-bme280(%#02x)", c.addr) }

func (c *BME280) read(reg byte, r []byte) {
	for i := range r {
		r[i] = c.regs[reg+byte(i)]
	}
	if reg == regStatus {
		c.poll()
		r[0] = c.regs[regStatus]
	}
	if c.faults.Corrupt != nil {
		c.faults.Corrupt(reg, r)
	}
}

// poll brings a conversion under way nearer to its end. Conversions are counted
// in reads of the status, not in time, so that tests need no clock.
func (c *BME280) poll() {
	if c.polls == 0 || c.faults.StuckStatus {
		return
	}
	c.polls--
	if c.polls == 0 {
		c.convert(c.regs[regCtrlMeas])
		c.regs[regStatus] &^= measuring
		c.regs[regCtrlMeas] &^= 3 // back to sleep
	}
}

func (c *BME280) write(reg, value byte) {
	switch reg {
	case regReset:
		if value == resetWord {
			c.powerOn()
		}
	case regCtrlHum:
		c.regs[regCtrlHum] = value & 7
	case regConfig:
		c.regs[regConfig] = value
	case regCtrlMeas:
		c.regs[regCtrlMeas] = value
		// Only now does ctrl_hum take effect (datasheet, section 5.4.3).
		c.latched = c.regs[regCtrlHum]
		if mode := value & 3; mode == 1 || mode == 2 {
			c.polls = 2
			c.regs[regStatus] |= measuring
		}
	}
}

// convert fills the data registers as oversampling bids: a quantity with none
// is skipped and leaves its mark.
func (c *BME280) convert(ctrlMeas byte) {
	t, p, h := uint32(skipped20), uint32(skipped20), uint32(skipped16)
	if ctrlMeas>>5 != 0 {
		t = c.t
	}
	if ctrlMeas>>2&7 != 0 {
		p = c.p
	}
	if c.latched != 0 {
		h = c.h
	}
	copy(c.regs[regData:], []byte{
		byte(p >> 12), byte(p >> 4), byte(p << 4),
		byte(t >> 12), byte(t >> 4), byte(t << 4),
		byte(h >> 8), byte(h),
	})
}

func (c *BME280) currentFaults() Faults {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.faults
}

// SetFaults replaces the chip's faults.
func (c *BME280) SetFaults(f Faults) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.faults = f
}
