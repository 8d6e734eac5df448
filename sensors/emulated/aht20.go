package emulated

import (
	"fmt"
	"math"
	"time"

	"recoat/sensors"
)

// AHT20 is an emulated chip, alone on a bus of its own.
type AHT20 struct {
	part
	t, rh      uint32
	calibrated bool
	started    time.Time
	frame      [7]byte
}

const (
	ahtBusy       = 1 << 7
	ahtCalibrated = 1 << 3
	ahtIdle       = 1 << 4 // reads as one
	ahtStart      = 40 * time.Millisecond
)

// NewAHT20 returns a chip at 0x38, powered on long ago, in air at 20 °C and 50 %.
func NewAHT20() *AHT20 {
	c := &AHT20{part: part{kind: "aht20", addr: 0x38}}
	c.tx = c.transact
	c.Set(20, 50)
	return c
}

// Set puts the chip in this air, from -50 to 150 °C.
func (c *AHT20) Set(air sensors.Celsius, rh sensors.RelativeHumidity) {
	c.mu.Lock()
	defer c.mu.Unlock()
	const full = 1 << 20
	c.t = uint32(math.Round(min(max((float64(air)+50)/200*full, 0), full-1)))
	c.rh = uint32(math.Round(min(max(float64(rh)/100*full, 0), full-1)))
}

// BrownOut drops the supply for an instant: the chip takes no command for 40 ms
// and is not calibrated.
func (c *AHT20) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.calibrated, c.started, c.frame = false, time.Now(), [7]byte{}
}

func (c *AHT20) transact(w, r []byte) error {
	if time.Since(c.started) < ahtStart {
		return refused{"just powered on"}
	}
	switch {
	case len(w) == 0, len(w) == 1 && w[0] == 0x71:
	case len(w) == 3 && w[0] == 0xBE:
		c.calibrated = true
	case len(w) == 3 && w[0] == 0xAC:
		c.measure()
	default:
		return refused{fmt.Sprintf("% x", w)}
	}
	c.frame[0] = ahtIdle
	if c.calibrated {
		c.frame[0] |= ahtCalibrated
	}
	if c.busy() {
		c.frame[0] |= ahtBusy
	}
	c.frame[6] = wordSum(c.frame[:6])
	copy(r, c.frame[:])
	return nil
}

func (c *AHT20) measure() {
	c.convert(75 * time.Millisecond)
	copy(c.frame[1:], []byte{
		byte(c.rh >> 12), byte(c.rh >> 4), byte(c.rh<<4) | byte(c.t>>16),
		byte(c.t >> 8), byte(c.t),
	})
}
