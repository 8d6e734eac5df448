package emulated

import (
	"math"
	"time"

	"recoat/sensors"
)

// ADS1115 is an emulated converter, alone on a bus of its own. Its clock is 10 %
// slow, as the datasheet allows.
type ADS1115 struct {
	part
	regs  registers
	volts [4]float64 // at its inputs
	input int        // of the conversion under way
}

// adcSpans are the spans of the amplifier, in volts, and adcRates its
// conversions a second.
var (
	adcSpans = [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}
	adcRates = [8]float64{8, 16, 32, 64, 128, 250, 475, 860}
)

const adcBegin = 1 << 15

// NewADS1115 returns a converter at addr (0x48 to 0x4B), just powered on, with
// nothing at its inputs.
func NewADS1115(addr uint16) *ADS1115 {
	c := &ADS1115{part: part{kind: "ads1115", addr: addr}, input: -1}
	c.tx = c.transact
	c.powerOn()
	return c
}

// Set puts a voltage at an input, 0 to 3.
func (c *ADS1115) Set(input int, volts float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.volts[input] = volts
}

// BrownOut drops the supply for an instant.
func (c *ADS1115) BrownOut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.powerOn()
}

func (c *ADS1115) powerOn() {
	c.regs, c.input, c.done = registers{mask: 3}, -1, time.Time{}
	c.regs.words[1], c.regs.words[2], c.regs.words[3] = 0x8583, 0x8000, 0x7FFF
}

func (c *ADS1115) transact(w, r []byte) error {
	c.finish()
	return c.regs.transact(w, r, func(reg byte, before uint16) {
		switch {
		case reg == 0:
			c.regs.words[0] = before // read only
		case reg == 1 && c.regs.words[1]&adcBegin != 0:
			c.begin()
		case reg == 1:
			c.regs.words[1] |= before & adcBegin
		}
	})
}

// begin starts a conversion of one input against ground.
func (c *ADS1115) begin() {
	config := c.regs.words[1]
	c.regs.words[1] &^= adcBegin
	c.input = int(config >> 12 & 3)
	c.convert(time.Duration(1.1 / adcRates[config>>5&7] * float64(time.Second)))
}

// finish stores the result of a conversion that has ended.
func (c *ADS1115) finish() {
	if c.input < 0 || c.busy() {
		return
	}
	span := adcSpans[c.regs.words[1]>>9&7]
	steps := math.Round(c.volts[c.input] / span * 32768)
	c.regs.words[0] = uint16(int16(min(max(steps, -32768), 32767)))
	c.regs.words[1] |= adcBegin
	c.input = -1
}

// Divider is a thermistor to ground with a fixed resistor to the supply.
type Divider struct {
	R25, Beta float64 // of the thermistor, Ω and K
	Series    float64 // Ω
	Supply    float64 // V
}

// Volts returns what is across the thermistor at a temperature.
func (d Divider) Volts(t sensors.Celsius) float64 {
	ohms := d.R25 * math.Exp(d.Beta*(1/t.Absolute()-1/sensors.Celsius(25).Absolute()))
	return d.Supply * ohms / (ohms + d.Series)
}
