package chip_test

import (
	"testing"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

// device is an emulated chip that can be made to fail.
type device interface {
	i2c.Bus
	SetFaults(emulated.Faults)
}

// rig is an emulated chip and the driver for it.
type rig struct {
	name      string
	device    device
	kind      string // of chip.Kinds, empty for one that has to be said
	addr      uint16
	open      func() (sensors.Source, error)
	put       func(at sensors.Celsius, rh sensors.RelativeHumidity)
	span      [2]float64 // of the round trip, in the units of its channels
	checked   bool       // a check sum guards its values
	brownOut  func()
	restarts  bool // a dip in the supply shows as an error, or a held value
	converts  bool // it can get stuck in a conversion
	lowIsNone bool // zeros on the wire can be told from a value
}

var divider = emulated.Divider{R25: 10000, Beta: 3950, Series: 10000, Supply: 3.3}

var thermistor = chip.Thermistor{Input: 1, Series: 10000, Supply: 3.3, Curve: chip.Curve{R25: 10000, Beta: 3950}}

// opening turns what opens a chip into what opens a source.
func opening(open func(i2c.Bus, uint16, string) (*chip.Chip, error), bus i2c.Bus, addr uint16) func() (sensors.Source, error) {
	return func() (sensors.Source, error) {
		c, err := open(bus, addr, "i2c-1")
		if err != nil {
			return nil, err
		}
		return c, nil
	}
}

// rigs returns one of each chip on I²C.
func rigs() []rig {
	sht3x, sht4x, hdc, aht := emulated.NewSHT3x(0x44, 0xCAFE0001), emulated.NewSHT4x(0x44, 0xCAFE0002), emulated.NewHDC302x(0x44), emulated.NewAHT20()
	mcp, tmp, mlx, adc, scd := emulated.NewMCP9808(0x18), emulated.NewTMP102(0x48), emulated.NewMLX90614(0x5A, 1, 77), emulated.NewADS1115(0x48), emulated.NewSCD4x()
	infrared := func(bus i2c.Bus, addr uint16, where string) (*chip.Chip, error) {
		return chip.OpenMLX90614(bus, addr, where, 0.95)
	}
	throughADC := func(bus i2c.Bus, addr uint16, where string) (*chip.Chip, error) {
		return chip.OpenThermistor(chip.NewADC(bus, addr, where), thermistor)
	}
	surface := func(set func(sensors.Celsius)) func(sensors.Celsius, sensors.RelativeHumidity) {
		return func(t sensors.Celsius, _ sensors.RelativeHumidity) { set(t) }
	}
	return []rig{
		{name: "sht3x", device: sht3x, kind: "sht3x", addr: 0x44, open: opening(chip.OpenSHT3x, sht3x, 0x44), put: sht3x.Set,
			span: [2]float64{0.0014, 0.0008}, checked: true, brownOut: sht3x.BrownOut, restarts: true, converts: true, lowIsNone: true},
		{name: "sht4x", device: sht4x, kind: "sht4x", addr: 0x44, open: opening(chip.OpenSHT4x, sht4x, 0x44), put: sht4x.Set,
			span: [2]float64{0.0014, 0.001}, checked: true, brownOut: sht4x.BrownOut, converts: true, lowIsNone: true},
		{name: "hdc302x", device: hdc, kind: "hdc302x", addr: 0x44, open: opening(chip.OpenHDC302x, hdc, 0x44), put: hdc.Set,
			span: [2]float64{0.0014, 0.0008}, checked: true, brownOut: hdc.BrownOut, restarts: true, converts: true, lowIsNone: true},
		{name: "aht20", device: aht, kind: "aht20", addr: 0x38, open: opening(chip.OpenAHT20, aht, 0x38), put: aht.Set,
			span: [2]float64{0.0002, 0.0002}, checked: true, brownOut: aht.BrownOut, restarts: true, converts: true, lowIsNone: true},
		{name: "mcp9808", device: mcp, kind: "mcp9808", addr: 0x18, open: opening(chip.OpenMCP9808, mcp, 0x18), put: surface(mcp.Set),
			span: [2]float64{0.0313}, brownOut: mcp.BrownOut, restarts: true, converts: true, lowIsNone: true},
		{name: "tmp102", device: tmp, kind: "tmp102", addr: 0x48, open: opening(chip.OpenTMP102, tmp, 0x48), put: surface(tmp.Set),
			span: [2]float64{0.0313}, brownOut: tmp.BrownOut, restarts: true, converts: true, lowIsNone: true},
		{name: "mlx90614", device: mlx, kind: "mlx90614", addr: 0x5A, open: opening(infrared, mlx, 0x5A),
			put: func(t sensors.Celsius, _ sensors.RelativeHumidity) { mlx.Set(21, t, 0.95) }, span: [2]float64{0.04}, checked: true, lowIsNone: true},
		{name: "thermistor", device: adc, addr: 0x48, open: opening(throughADC, adc, 0x48),
			put: func(t sensors.Celsius, _ sensors.RelativeHumidity) { adc.Set(1, divider.Volts(t)) }, span: [2]float64{0.01}, brownOut: adc.BrownOut, converts: true, lowIsNone: true},
		{name: "scd4x", device: scd, kind: "scd4x", addr: 0x62, open: opening(chip.OpenSCD4x, scd, 0x62),
			put: func(t sensors.Celsius, _ sensors.RelativeHumidity) { scd.Set(400 + 20*float64(t)) }, span: [2]float64{0.5}, checked: true, brownOut: scd.BrownOut, converts: true, lowIsNone: true},
	}
}

func (r rig) started(t *testing.T) sensors.Source {
	t.Helper()
	s, err := r.open()
	if err != nil {
		t.Fatalf("%s: %v", r.name, err)
	}
	return s
}
