package chip_test

import (
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/onewire"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

func probe(t *testing.T, master onewire.Bus, addr onewire.Address) *chip.Chip {
	t.Helper()
	s, err := chip.OpenDS18B20(chip.NewOneWire(func() (onewire.Bus, error) { return master, nil }), addr)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestProbesOnABusMasterGiveWhatTheyAreAt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr := emulated.NewMaster(), emulated.Address(0x0316A2791B5F)
		s := probe(t, master, addr)
		if s.Name() != "ds18b20 28-0316a2791b5f" {
			t.Errorf("it is called %q", s.Name())
		}
		for at := -54.9375; at < 125; at += 3.3125 {
			master.Set(addr, sensors.Celsius(at))
			if got, err := s.Read(t.Context()); err != nil || got[0].Value != at && at != 85 {
				t.Errorf("%v °C: %v, %v", at, got, err)
			}
		}
	})
}

func TestProbesConvertTogether(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master := emulated.NewMaster()
		wire := chip.NewOneWire(func() (onewire.Bus, error) { return master, nil })
		for n := range 4 {
			master.Set(emulated.Address(uint64(n)), sensors.Celsius(10+n))
		}
		found, err := wire.Search(t.Context())
		if err != nil || len(found) != 4 {
			t.Fatalf("found %v, %v", found, err)
		}
		start := time.Now()
		var reads sync.WaitGroup
		for _, addr := range found {
			s, err := chip.OpenDS18B20(wire, addr)
			if err != nil {
				t.Fatal(err)
			}
			reads.Go(func() {
				got, err := s.Read(t.Context())
				if want := 10 + float64(addr>>8&0xFF); err != nil || got[0].Value != want {
					t.Errorf("%s: %v, %v; want %v", s.Name(), got, err, want)
				}
			})
		}
		reads.Wait()
		if took := time.Since(start); took > 800*time.Millisecond {
			t.Errorf("four probes took %s, want one conversion", took)
		}
	})
}

// Each read is of a conversion of its own time: one that comes later does not get
// the temperature of the one before.
func TestALaterReadConvertsAnew(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr := emulated.NewMaster(), emulated.Address(5)
		s := probe(t, master, addr)
		for at := sensors.Celsius(0); at < 5; at++ {
			master.Set(addr, 20+at)
			if got, err := s.Read(t.Context()); err != nil || got[0].Value != float64(20+at) {
				t.Errorf("%v, %v; want %v", got, err, 20+at)
			}
		}
	})
}

func TestFaultsOfAProbeAreErrors(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr, other := emulated.NewMaster(), emulated.Address(5), emulated.Address(6)
		master.Set(other, 18)
		s, sound := probe(t, master, addr), probe(t, master, other)
		for _, fault := range []emulated.ProbeFault{emulated.BadCRC, emulated.PowerOn, emulated.AllZero, emulated.Overranged, emulated.Unplugged} {
			master.Set(addr, 20)
			master.SetFault(addr, fault)
			if got, err := s.Read(t.Context()); err == nil || got != nil {
				t.Errorf("fault %d: %v, %v", fault, got, err)
			}
			if got, err := sound.Read(t.Context()); err != nil || got[0].Value != 18 {
				t.Errorf("fault %d of its neighbour: %v, %v", fault, got, err)
			}
			master.SetFault(addr, emulated.NoFault)
			if got, err := s.Read(t.Context()); err != nil || got[0].Value != 20 {
				t.Errorf("mended: %v, %v", got, err)
			}
		}
		if _, err := chip.OpenDS18B20(nil, addr^1); err == nil {
			t.Error("a code that is none is accepted")
		}
	})
}

// Some masters answer every call with an old error until they are started again.
func TestABusMasterIsStartedAgainAfterAnError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr := emulated.NewMaster(), emulated.Address(5)
		master.Set(addr, 20)
		starts := 0
		wire := chip.NewOneWire(func() (onewire.Bus, error) { starts++; return master, nil })
		s, err := chip.OpenDS18B20(wire, addr)
		if err != nil {
			t.Fatal(err)
		}
		for _, fault := range []bool{false, true, false} {
			master.SetFaults(emulated.Faults{NoAnswer: fault})
			if got, err := s.Read(t.Context()); (err != nil) != fault {
				t.Errorf("fault %v: %v, %v", fault, got, err)
			}
		}
		if starts != 2 {
			t.Errorf("started %d times, want 2", starts)
		}
	})
}
