package chip_test

import (
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors/emulated"
)

// Answers recorded from chips, with what they mean: the AHT20's and the SCD4x's
// stand in the tests of periph.io/x/devices/v3 v3.7.4 (aht20/aht20_test.go,
// scd4x/scd4x_test.go), the HDC302x's in hdc302x/hdc302x_test.go there. The
// MLX90614's is the example of its datasheet (from memory): 0x3AD2 is 28.01 °C,
// here of a surface as warm as the chip.
func TestRecordedAnswers(t *testing.T) {
	table := []struct {
		name    string
		command byte // whose answer it is
		answer  []byte
		want    []float64
	}{
		{"aht20", 0xAC, []byte{0x18, 0x75, 0x52, 0x05, 0x8E, 0x40, 0x7F}, []float64{19.446, 45.829}},
		{"hdc302x", 0xE0, []byte{0x68, 0xC5, 0x51, 0x3B, 0x82, 0x31}, []float64{26.621, 23.2}},
		{"scd4x", 0xEC, []byte{0x02, 0x2C, 0xA3, 0x67, 0x0D, 0x36, 0x4D, 0x08, 0xF1}, []float64{556}},
		{"mlx90614", 0x07, []byte{0xD2, 0x3A, 0x30}, []float64{28.01}},
	}
	for _, c := range table {
		each(t, called(c.name), func(t *testing.T, r rig) {
			if c.name == "mlx90614" {
				r.device.(*emulated.MLX90614).Set(28.01, 28.01, 1)
			}
			s := r.started(t)
			r.device.SetFaults(emulated.Faults{Corrupt: func(command byte, got []byte) {
				if command == c.command && len(got) == len(c.answer) {
					copy(got, c.answer)
				}
			}})
			time.Sleep(6 * time.Second)
			got, err := reading(t, s)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range c.want {
				if !near(got[i].Value, want, 0.05) || i == 0 && !near(got[i].Value, want, 0.01) {
					t.Errorf("%s is %v, want %v", got[i].Channel, got[i].Value, want)
				}
			}
		})
	}
}

// A slow chip is waited for where it can say that it is not done, and is an error
// where it refuses to answer; the value before never takes its place.
func TestSlowConversions(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, r := range rigs() {
			if !r.converts {
				continue
			}
			r.put(20, 50)
			s := r.started(t)
			time.Sleep(6 * time.Second)
			if _, err := reading(t, s); err != nil {
				t.Fatal(err)
			}
			r.put(30, 70)
			r.device.SetFaults(emulated.Faults{Slow: 30 * time.Millisecond})
			time.Sleep(6 * time.Second)
			if r.name == "hdc302x" || r.name == "scd4x" {
				_, _ = reading(t, s) // the measurement they had made
				time.Sleep(6 * time.Second)
			}
			got, err := reading(t, s)
			if err == nil {
				r.compare(t, got, 30, 70)
			} else if waits := called("aht20", "thermistor", "mcp9808", "hdc302x", "scd4x"); waits(r) {
				t.Errorf("%s: %v; it says when it is done, and could be waited for", r.name, err)
			}
		}
	})
}

// An HDC302x can be set to measure by itself as soon as it has power; then only
// its status tells of a restart. The status 0x8010 and its sum are in the tests of
// periph.io's driver, recorded from a chip.
func TestAnHDC302xThatRestartedAndMeasuresIsAnError(t *testing.T) {
	each(t, called("hdc302x"), func(t *testing.T, r rig) {
		s := r.started(t)
		r.device.SetFaults(emulated.Faults{Corrupt: func(command byte, got []byte) {
			if command == 0xF3 {
				copy(got, []byte{0x80, 0x10, 0xE1})
			}
		}})
		time.Sleep(time.Second)
		r.refuses(t, s, "restarted")
	})
}

func TestNoCarbonDioxideAtAllIsNoMeasurement(t *testing.T) {
	each(t, called("scd4x"), func(t *testing.T, r rig) {
		s := r.started(t)
		r.put(-20, 0) // 0 ppm
		time.Sleep(6 * time.Second)
		r.refuses(t, s, "0 ppm")
	})
}
