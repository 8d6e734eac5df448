package wiring

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors/emulated"
)

// still is a chip that nobody knows: it reads as one byte for ever.
type still struct{ i2c.Bus }

func (still) Tx(_ uint16, w, r []byte) error {
	for i := range r {
		r[i] = 0x21
	}
	return nil
}

func told(list []Place) []string {
	var all []string
	for _, p := range list {
		all = append(all, p.String())
	}
	return all
}

func TestPlacesSayWhoAnswersWhere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		trunk := emulated.NewI2CBus("I2C1")
		trunk.Attach(0x76, emulated.NewBME280(0x76, emulated.Typical()))
		trunk.Attach(0x48, emulated.NewADS1115(0x48))
		trunk.Attach(0x68, still{})
		mux := emulated.NewPCA9548(trunk, 0x70)
		mux.Port(3).Attach(0x19, emulated.NewMCP9808(0x19))
		mux.Port(3).Attach(0x50, still{})
		got := told(places(newSurvey(mux, Real{Mux: 0x70, Thermistors: []Thermistor{{ADC: 0x48}}}, &channels{})))
		want := []string{
			"I2C1 0x48: ads1115, as configured", "I2C1 0x68: a chip that is not known",
			"I2C1 0x70: pca9548", "I2C1 0x76: bme280",
			"I2C1-0x70-3 0x19: mcp9808", "I2C1-0x70-3 0x50: a chip that is not known",
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
	})
}

// What a driver of the kernel's has hold of is left to it.
func TestAChipOfTheKernelsIsNotAsked(t *testing.T) {
	root := t.TempDir()
	place := filepath.Join(root, "sys/bus/i2c/devices/1-0044")
	if err := os.MkdirAll(place, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../../drivers/sht4x", filepath.Join(place, "driver")); err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		bus := emulated.NewI2CBus("I2C1")
		asked := &listener{SHT4x: emulated.NewSHT4x(0x44, 1)}
		bus.Attach(0x44, asked)
		v := newSurvey(bus, Real{Root: root}, &channels{})
		if got, want := told(places(v)), []string{"I2C1 0x44: left to the kernel's driver"}; !slices.Equal(got, want) || asked.n != 0 {
			t.Errorf("%q, asked %d times", got, asked.n)
		}
		if len(v.guards) != 0 {
			t.Error("it is read beside the kernel")
		}
	})
}

// listener counts what its chip is asked.
type listener struct {
	*emulated.SHT4x
	n int
}

func (l *listener) Tx(addr uint16, w, r []byte) error {
	l.n++
	return l.SHT4x.Tx(addr, w, r)
}
