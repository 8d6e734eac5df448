package emulated

import (
	"fmt"
	"time"

	"recoat/sensors"
)

// SCD4x is an emulated SCD40 or SCD41, alone on a bus of its own.
type SCD4x struct {
	part
	ppm, t, rh uint16
	measuring  bool
	pending    []uint16
}

const scdPeriod = 5 * time.Second

// NewSCD4x returns a chip at 0x62, just powered on, in air with 600 ppm of carbon
// dioxide.
func NewSCD4x() *SCD4x {
	c := &SCD4x{part: part{kind: "scd4x", addr: 0x62}, ppm: 600, t: celsiusWord(20), rh: percentWord(50)}
	c.tx = c.transact
	return c
}

// Set puts the chip in air with so much carbon dioxide, in ppm.
func (c *SCD4x) Set(ppm float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ppm = count(ppm)
}

// SetAir sets the temperature and humidity that the chip finds beside.
func (c *SCD4x) SetAir(air sensors.Celsius, rh sensors.RelativeHumidity) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t, c.rh = celsiusWord(float64(air)), percentWord(float64(rh))
}

// BrownOut drops the supply for an instant: the chip stands idle after it.
func (c *SCD4x) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.measuring, c.pending = false, nil
}

func (c *SCD4x) transact(w, r []byte) error {
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
	if c.pending == nil {
		return refused{"nothing to read"}
	}
	words := c.pending
	c.pending = nil
	return putWords(r, words...)
}

func (c *SCD4x) obey(cmd uint16) error {
	c.pending = nil
	switch {
	case cmd == 0xE4B8:
		c.pending = []uint16{0x8000}
		if c.measuring && !c.busy() {
			c.pending = []uint16{0x8006}
		}
	case cmd == 0xEC05 && c.measuring && !c.busy():
		c.pending = []uint16{c.ppm, c.t, c.rh}
		c.convert(scdPeriod)
	case cmd == 0x3F86:
		c.measuring = false
	case cmd == 0x3682 && !c.measuring:
		c.pending = []uint16{0x73B1, 0xEB07, 0x3B0C}
	case cmd == 0x21B1 && !c.measuring:
		c.measuring = true
		c.convert(scdPeriod)
	case cmd == 0x36F6 && !c.measuring: // wake up
	default:
		return refused{fmt.Sprintf("command %#04x", cmd)}
	}
	return nil
}
