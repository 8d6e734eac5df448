package chip_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

// A calibration belongs to one chip: another at the same address is not it.
func TestAChipChangedForAnotherIsAnError(t *testing.T) {
	infrared := func(bus i2c.Bus, addr uint16, where string) (*chip.Chip, error) {
		return chip.OpenMLX90614(bus, addr, where, 0.95)
	}
	table := []struct {
		name         string
		addr         uint16
		first, other i2c.Bus
		open         func(i2c.Bus, uint16, string) (*chip.Chip, error)
	}{
		{"sht3x", 0x45, emulated.NewSHT3x(0x45, 1), emulated.NewSHT3x(0x45, 2), chip.OpenSHT3x},
		{"sht4x", 0x46, emulated.NewSHT4x(0x46, 1), emulated.NewSHT4x(0x46, 2), chip.OpenSHT4x},
		{"mlx90614", 0x5A, emulated.NewMLX90614(0x5A, 1, 1), emulated.NewMLX90614(0x5A, 1, 2), infrared},
	}
	for _, c := range table {
		synctest.Test(t, func(t *testing.T) {
			bus := emulated.NewI2CBus("i2c-1")
			bus.Attach(c.addr, c.first)
			s, err := c.open(bus, c.addr, "i2c-1")
			if err != nil {
				t.Fatal(err)
			}
			bus.Attach(c.addr, c.other)
			if got, err := s.Read(t.Context()); err == nil || !strings.Contains(err.Error(), "changed for another") {
				t.Errorf("%s: %v, %v", c.name, got, err)
			}
		})
	}
}

// What the surface does not emit of itself it reflects from the room: a cold
// surface looks warmer than it is, and the more so the more it shines.
func TestEmissivityIsReckonedAnew(t *testing.T) {
	for _, c := range []struct{ set, surface float64 }{{1, 0.95}, {1, 0.6}, {0.9, 0.95}, {0.95, 0.95}} {
		sensor := emulated.NewMLX90614(0x5A, c.set, 9)
		sensor.Set(22, 8, c.surface)
		s, err := chip.OpenMLX90614(sensor, 0x5A, "i2c-1", c.surface)
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.Read(t.Context())
		if err != nil || !near(got[0].Value, 8, 0.05) {
			t.Errorf("set to %v, surface %v: %v, %v; want 8 °C", c.set, c.surface, got, err)
		}
	}
}

func TestTheInfraredChipsOwnErrorMarkIsHeeded(t *testing.T) {
	sensor := emulated.NewMLX90614(0x5A, 1, 9)
	s, err := chip.OpenMLX90614(sensor, 0x5A, "i2c-1", 0.95)
	if err != nil {
		t.Fatal(err)
	}
	sensor.SetInvalid(true)
	if got, err := s.Read(t.Context()); err == nil || got != nil {
		t.Errorf("%v, %v", got, err)
	}
	for _, e := range []float64{0, 0.05, 1.01, -1} {
		if _, err := chip.OpenMLX90614(sensor, 0x5A, "i2c-1", e); err == nil {
			t.Errorf("an emissivity of %v is accepted", e)
		}
	}
}

func TestThermistorWires(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewADS1115(0x48)
		probe := thermistor
		probe.Supply = 0 // measured at input 3
		s, err := chip.OpenThermistor(chip.NewADC(sensor, 0x48, "i2c-1"), probe)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			at, supply float64
			says       string // empty: 12 °C
		}{
			{divider.Volts(12), 3.3, ""},
			{divider.Volts(12) * 3.1 / 3.3, 3.1, ""}, // a tired supply does not matter
			{3.3, 3.3, "open"},
			{0, 3.3, "short"},
			{divider.Volts(12), 0, "input 3"},
			{5, 3.3, "above"},
		} {
			sensor.Set(1, c.at)
			sensor.Set(3, c.supply)
			got, err := s.Read(t.Context())
			switch {
			case c.says == "" && (err != nil || !near(got[0].Value, 12, 0.02)):
				t.Errorf("%v V of %v: %v, %v; want 12 °C", c.at, c.supply, got, err)
			case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
				t.Errorf("%v V of %v: %v, %v; want an error on %q", c.at, c.supply, got, err, c.says)
			}
		}
	})
}

// Two thermistors on one converter, read at the same time, do not get each
// other's voltage.
func TestThermistorsShareAConverter(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewADS1115(0x48)
		adc := chip.NewADC(sensor, 0x48, "i2c-1")
		type told struct {
			input int
			value float64
		}
		answers := make(chan told, 30)
		for input := range 3 {
			sensor.Set(input, divider.Volts(sensors.Celsius(10*input)))
			probe := thermistor
			probe.Input = input
			s, err := chip.OpenThermistor(adc, probe)
			if err != nil {
				t.Fatal(err)
			}
			go func() {
				for range 10 {
					got, err := s.Read(t.Context())
					if err != nil {
						t.Error(err)
						answers <- told{input, float64(10 * input)}
						continue
					}
					answers <- told{input, got[0].Value}
				}
			}()
		}
		for range 30 {
			if a := <-answers; !near(a.value, float64(10*a.input), 0.02) {
				t.Errorf("input %d: %v °C", a.input, a.value)
			}
		}
		time.Sleep(time.Millisecond)
	})
}
