package wiring

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
	"recoat/sensors/emulated"
)

// lastOf is the last round of an hour in which do was done after ten minutes.
func lastOf(t *testing.T, s Sensors, do func()) sensors.Round {
	t.Helper()
	time.AfterFunc(10*time.Minute, do)
	var last sensors.Round
	run(t, s, time.Hour-time.Second, func(r sensors.Round) { last = r })
	time.Sleep(time.Minute) // for a look that has begun to end
	return last
}

func good(r sensors.Round) []string {
	var all []string
	for _, x := range r.Readings {
		if x.Quality == sensors.Good {
			all = append(all, x.Channel.String())
		}
	}
	slices.Sort(all)
	return all
}

func TestAChipThatComesLaterIsFound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, mcp := emulated.NewI2CBus("I2C1"), emulated.NewMCP9808(0x18)
		bus.Attach(0x18, mcp)
		last := lastOf(t, look(t, bus, Real{}), func() { bus.Attach(0x45, emulated.NewSHT3x(0x45, 1)) })
		want := []string{"air-temperature", "relative-humidity", "surface-temperature:1-0018"}
		if got := good(last); !slices.Equal(got, want) {
			t.Errorf("in the end %v is good, want %v", got, want)
		}
	})
}

// Another kind at the same address takes the place of the one that was there,
// and gives what it gave.
func TestAChipChangedForAnotherKindIsFound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := emulated.NewI2CBus("I2C1")
		bus.Attach(0x44, emulated.NewSHT4x(0x44, 1))
		s := look(t, bus, Real{})
		last := lastOf(t, s, func() { bus.Attach(0x44, emulated.NewHDC302x(0x44)) })
		if got, want := good(last), []string{"air-temperature", "relative-humidity"}; !slices.Equal(got, want) || len(last.Readings) != 2 {
			t.Errorf("in the end %v is good of %v, want %v alone", got, last.Readings, want)
		}
		if guards := s.Guards(); len(guards) != 1 || guards[0].Name() != "hdc302x at I2C1 0x44" {
			t.Errorf("in the end there is %v", names(s))
		}
	})
}

// A chip changed for one of its own kind is started again, with its own
// calibration; nobody looks for it.
func TestAChipChangedForOneOfItsKindKeepsItsPlace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := emulated.NewI2CBus("I2C1")
		bus.Attach(0x45, emulated.NewSHT3x(0x45, 1))
		s := look(t, bus, Real{})
		before := s.Guards()
		last := lastOf(t, s, func() { bus.Attach(0x45, emulated.NewSHT3x(0x45, 2)) })
		if len(good(last)) != 2 || !slices.Equal(before, s.Guards()) {
			t.Errorf("%v; %v", last.Readings, names(s))
		}
	})
}

func TestAMultiplexerThatComesLaterBringsItsPorts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		trunk := emulated.NewI2CBus("I2C1")
		mux := emulated.NewPCA9548(trunk, 0x70)
		mux.Port(3).Attach(0x19, emulated.NewMCP9808(0x19))
		mux.SetFaults(emulated.Faults{NoAnswer: true})
		var s Sensors
		s.addBus(mux, Real{Mux: 0x70}, &channels{})
		if len(s.Failures) != 1 || len(s.Guards()) != 0 {
			t.Fatalf("%v, %v", s.Failures, names(s))
		}
		last := lastOf(t, s, func() { mux.SetFaults(emulated.Faults{}) })
		if got, want := good(last), []string{"surface-temperature:1-0019-3"}; !slices.Equal(got, want) {
			t.Errorf("in the end %v is good, want %v", got, want)
		}
	})
}

// A probe plugged in later has a channel of its own; that of the one taken away
// goes on as missing, and the two are never joined.
func TestAProbeChangedForAnotherHasAChannelOfItsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		wire := &emulated.OneWire{Root: t.TempDir()}
		if err := wire.Set("28-000000000001", 14); err != nil {
			t.Fatal(err)
		}
		s, err := find(Real{Root: wire.Root}, busless)
		if err != nil {
			t.Fatal(err)
		}
		last := lastOf(t, s, func() {
			if err := os.RemoveAll(filepath.Join(wire.Root, "sys/bus/w1/devices/28-000000000001")); err != nil {
				t.Error(err)
			}
			if err := wire.Set("28-000000000002", 15); err != nil {
				t.Error(err)
			}
		})
		if len(last.Readings) != 2 || last.Readings[0].Quality != sensors.Missing || last.Readings[1].Value != 15 {
			t.Errorf("%v", last.Readings)
		}
	})
}

// An agent waits for the chips of a bus that has none yet.
func TestABusWithoutAChipCanBeWaitedFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus := &opened{I2CBus: emulated.NewI2CBus("I2C1")}
		s, err := find(Real{Root: t.TempDir(), Wait: true}, func(string) (i2c.BusCloser, error) { return bus, nil })
		if err != nil || len(s.Failures) != 1 || bus.closed {
			t.Fatalf("%v, %v", s.Failures, err)
		}
		last := lastOf(t, s, func() { bus.Attach(0x76, emulated.NewBME280(0x76, emulated.Typical())) })
		if len(good(last)) != 3 {
			t.Errorf("in the end %v", last.Readings)
		}
	})
	if _, err := find(Real{Root: t.TempDir(), Wait: true}, busless); err == nil {
		t.Error("a machine without a bus is waited for")
	}
}
