package chip

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"periph.io/x/conn/v3/onewire"
)

func near(got, want, span float64) bool { return math.Abs(got-want) <= span }

// 0xBEEF has the sum 0x92 in table 20 of the SHT3x-DIS datasheet. The sums of
// 0x0000 and 0x3000 are in the tests of periph.io's HDC302x driver, recorded from
// a chip; that of 0xFFFF follows from the same polynomial, worked out apart.
func TestCheckSumOfWords(t *testing.T) {
	for in, want := range map[string]byte{"beef": 0x92, "0000": 0x81, "3000": 0x33, "ffff": 0xAC} {
		bytes, err := hex.DecodeString(in)
		if err != nil {
			t.Fatal(err)
		}
		if got := checkWord(bytes); got != want {
			t.Errorf("%s: %#02x, want %#02x", in, got, want)
		}
	}
}

// The example of the MLX90614 datasheet, section 8.4.3.1 (from memory): a read of
// 0x07 at 0x5A gives D2 3A and the code 30, which is 28.01 °C.
func TestPacketErrorCode(t *testing.T) {
	if got := packetError([]byte{0xB4, 0x07, 0xB5, 0xD2, 0x3A}); got != 0x30 {
		t.Errorf("%#02x, want 0x30", got)
	}
	// "123456789" gives 0xF4: the check value of CRC-8/SMBUS in the catalogue of
	// parametrised CRC algorithms.
	if got := packetError([]byte("123456789")); got != 0xF4 {
		t.Errorf("check value %#02x, want 0xF4", got)
	}
}

// The formulas of the datasheets (SHT3x-DIS, section 4.13; SHT4x, section 4.6)
// at 0xBEEF, worked out by hand, and the two recorded measurements that stand in
// periph.io's tests of the HDC302x as 26.621 °C and 23.2 %.
func TestConversionsOfWords(t *testing.T) {
	table := []struct {
		what            string
		got, want, span float64
	}{
		{"temperature", wordCelsius(0xBEEF), 85.523, 0.0005},
		{"humidity", wordPercent(0xBEEF), 74.585, 0.0005},
		{"recorded temperature", wordCelsius(0x68C5), 26.621, 0.001},
		{"recorded humidity", wordPercent(0x3B82), 23.2, 0.05},
		{"SHT4x humidity", sht4xPercent(0xBEEF), 87.231, 0.0005},
		{"SHT4x below the scale", sht4xPercent(0), 0, 0},
		{"SHT4x above the scale", sht4xPercent(0xFFFF), 100, 0},
	}
	for _, c := range table {
		if !near(c.got, c.want, c.span) {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
}

// TI SBOS397, table 6-2 (the second value from memory).
func TestTMP102Conversion(t *testing.T) {
	for raw, want := range map[uint16]float64{0x1900: 25, 0xE700: -25, 0x7FF0: 127.9375, 0xFFF0: -0.0625, 0: 0} {
		if got := tmp102Celsius(raw); got != want {
			t.Errorf("%#04x: %v, want %v", raw, got, want)
		}
	}
}

// The table "temperature/data relationship" of the DS18B20 datasheet (from
// memory).
func TestDS18B20Table(t *testing.T) {
	table := map[uint16]float64{
		0x07D0: 125, 0x0550: 85, 0x0191: 25.0625, 0x00A2: 10.125, 0x0008: 0.5, 0x0000: 0,
		0xFFF8: -0.5, 0xFF5E: -10.125, 0xFE6F: -25.0625, 0xFC90: -55,
	}
	for raw, want := range table {
		got, err := padCelsius(pad(raw, 0x7F, 0x10))
		if err != nil || got != want {
			t.Errorf("%#04x: %v, %v; want %v", raw, got, err, want)
		}
	}
}

func pad(raw uint16, config, left byte) [9]byte {
	p := [9]byte{byte(raw), byte(raw >> 8), 0x4B, 0x46, config, 0xFF, left, 0x10}
	p[8] = onewire.CalcCRC(p[:8])
	return p
}

// Below 12 bits the last bits mean nothing (DS18B20 datasheet, "configuration
// register").
func TestUnusedBitsOfACoarseProbeAreDropped(t *testing.T) {
	for config, want := range map[byte]float64{0x7F: 25.9375, 0x5F: 25.875, 0x3F: 25.75, 0x1F: 25.5} {
		if got, err := padCelsius(pad(0x019F, config, 0x10)); err != nil || got != want {
			t.Errorf("settings %#02x: %v, %v; want %v", config, got, err, want)
		}
	}
}

// The memory after power-on is the datasheet's; byte 6 = 0x0C beside it is named
// in Linux's Documentation/w1/slaves/w1_therm.rst.
func TestPadsThatHoldNoTemperature(t *testing.T) {
	powerOn := [9]byte{0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C}
	if !onewire.CheckCRC(powerOn[:]) {
		t.Fatal("the pad after power-on has another check sum than the datasheet's")
	}
	wrong := pad(0x0191, 0x7F, 0x10)
	wrong[0] ^= 4
	high := [9]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}
	for says, p := range map[string][9]byte{
		"power-on":  powerOn,
		"zeros":     {},
		"127.94":    pad(0x07FF, 0x7F, 0x0C),
		"check sum": wrong,
		"is off":    high,
		"settings":  pad(0x0191, 0x00, 0x10),
	} {
		if v, err := padCelsius(p); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("% x: %v, %v; want an error on %q", p, v, err, says)
		}
	}
}

// The code is the one in periph.io's tests of its DS18B20 driver.
func TestROM(t *testing.T) {
	const probe onewire.Address = 0x740000070E41AC28
	if err := checkROM(probe); err != nil {
		t.Error(err)
	}
	if got := ROM(probe); got != "28-0000070e41ac" {
		t.Errorf("it is called %q", got)
	}
	for _, other := range []onewire.Address{0, probe ^ 1<<20, 0x740000070E41AC10, 0xFFFFFFFFFFFFFFFF} {
		if checkROM(other) == nil {
			t.Errorf("%#x passes for a DS18B20", uint64(other))
		}
	}
}

// DS20005095, table 5-5 and section 5.4: 25 °C above all three limits at 0 °C
// reads C190; 0 °C is at the critical limit, which bit 15 says.
func TestMCP9808TellsMeasuredFromNot(t *testing.T) {
	for _, raw := range []uint16{0xC190, 0x8000, 0x3FF0, 0x0190} {
		if err := meantByMCP9808(raw); err != nil {
			t.Errorf("%#04x: %v", raw, err)
		}
	}
	for _, raw := range []uint16{0, 0xFFFF, 0xE190} {
		if meantByMCP9808(raw) == nil {
			t.Errorf("%#04x passes for a measurement", raw)
		}
	}
}

// A common 10 kΩ thermistor in appendix A, table A.1 of the manuals of the
// laboratory controllers LDT-5525 and LDC-3900, which says that the equation fits
// it within 0.01 °C: three of its points give the coefficients, the others check
// them. The point at 40 °C is left out: the 5331 Ω printed there are half a
// degree off the curve, against the 0.0003 °C printed beside them.
func TestSteinhartHart(t *testing.T) {
	table := map[float64]float64{0: 32128, 10: 19549, 20: 12262, 25: 9814, 30: 7908, 50: 3542}
	c := fitted(table, 0, 20, 30)
	for celsius, ohms := range table {
		if got := c.Celsius(ohms); !near(got, celsius, 0.01) {
			t.Errorf("%v Ω: %v °C, want %v", ohms, got, celsius)
		}
	}
	if err := (Thermistor{Series: 1e4, Supply: 3.3, Curve: c}).Check(); err != nil {
		t.Error(err)
	}
}

// fitted solves 1/T = A + B ln R + C (ln R)³ at three temperatures.
func fitted(table map[float64]float64, t1, t2, t3 float64) Curve {
	l1, l2, l3 := math.Log(table[t1]), math.Log(table[t2]), math.Log(table[t3])
	y1, y2, y3 := 1/(t1+273.15), 1/(t2+273.15), 1/(t3+273.15)
	g2, g3 := (y2-y1)/(l2-l1), (y3-y1)/(l3-l1)
	c := (g3 - g2) / (l3 - l2) / (l1 + l2 + l3)
	b := g2 - c*(l1*l1+l1*l2+l2*l2)
	return Curve{A: y1 - (b+l1*l1*c)*l1, B: b, C: c}
}

// By the definition of β (IEC 60539-1): R25 is at 25 °C, and a resistance of
// R25·exp(β (1/T - 1/298.15 K)) at T.
func TestBeta(t *testing.T) {
	c := Curve{R25: 10000, Beta: 3950}
	for celsius, ohms := range map[float64]float64{25: 10000, 0: 10000 * math.Exp(3950*(1/273.15-1/298.15)), 50: 10000 * math.Exp(3950*(1/323.15-1/298.15))} {
		if got := c.Celsius(ohms); !near(got, celsius, 1e-9) {
			t.Errorf("%v Ω: %v °C, want %v", ohms, got, celsius)
		}
	}
}

func TestThermistorsThatCannotBe(t *testing.T) {
	good := Thermistor{Series: 1e4, Supply: 3.3, Curve: Curve{R25: 1e4, Beta: 3950}}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	table := []struct {
		alter func(*Thermistor)
		says  string
	}{
		{func(p *Thermistor) { p.Input = 4 }, "from 0 to 3"},
		{func(p *Thermistor) { p.Input = -1 }, "from 0 to 3"},
		{func(p *Thermistor) { p.Input, p.Supply = 3, 0 }, "measures the supply"},
		{func(p *Thermistor) { p.Supply = 5 }, "supply of 5 V"},
		{func(p *Thermistor) { p.Supply = math.NaN() }, "supply"},
		{func(p *Thermistor) { p.Series = 0 }, "series resistor"},
		{func(p *Thermistor) { p.Curve = Curve{} }, "beta"},
		{func(p *Thermistor) { p.Curve.A, p.Curve.B = 1e-3, 2e-4 }, "not both"},
	}
	for _, c := range table {
		bad := good
		c.alter(&bad)
		if err := bad.Check(); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v; want an error on %q", err, c.says)
		}
	}
}

// ADS1115 datasheet, table "input signal versus ideal output code": full scale
// is 32768 steps of 125 µV.
func TestADCVolts(t *testing.T) {
	for raw, want := range map[uint16]float64{0: 0, 1: 125e-6, 0x4000: 2.048, 0xFFFF: -125e-6} {
		if got := adcVolts(raw); !near(got, want, 1e-12) {
			t.Errorf("%#04x: %v V, want %v", raw, got, want)
		}
	}
}
