package poll_test

import (
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
)

const addr = 0x76

func guarded(bus *emulated.I2CBus) *poll.Guard {
	return poll.NewGuard(poll.GuardConfig{
		Name:     chip.BME280Name(bus.String(), addr),
		Channels: chip.BME280Channels(),
		Open:     func() (sensors.Source, error) { return chip.OpenBME280(bus, addr, bus.String()) },
	})
}

// readsUntilGood reads once a second and returns after how many reads without it
// the humidity is good.
func readsUntilGood(t *testing.T, g *poll.Guard, limit int) int {
	t.Helper()
	for n := range limit {
		for _, r := range g.Read(t.Context(), time.Now()) {
			if r.Channel.Quantity != sensors.AirHumidity || r.Quality != sensors.Good {
				continue
			}
			if r.Value < 49.5 || r.Value > 50.5 {
				t.Fatalf("read %d is %v, want 50 or nothing", n, r)
			}
			return n
		}
		time.Sleep(time.Second)
	}
	t.Fatalf("no good humidity in %d reads: %+v", limit, g.Health())
	return limit
}

func TestAChipComesBackByItself(t *testing.T) {
	table := []struct {
		name       string
		harm, mend func(*emulated.I2CBus, *emulated.BME280)
		missing    int // reads without a value after the mend, at one a second
	}{
		{"brown-out", func(_ *emulated.I2CBus, c *emulated.BME280) { c.BrownOut() }, nil, 1},
		{"unplugged", func(b *emulated.I2CBus, _ *emulated.BME280) { b.Detach(addr) },
			func(b *emulated.I2CBus, c *emulated.BME280) { c.BrownOut(); b.Attach(addr, c) }, 8},
		{"a conversion without end", func(_ *emulated.I2CBus, c *emulated.BME280) { c.SetFaults(emulated.Faults{StuckStatus: true}) },
			func(_ *emulated.I2CBus, c *emulated.BME280) { c.SetFaults(emulated.Faults{}) }, 8},
	}
	for _, c := range table {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				bus, sensor := emulated.NewI2CBus("i2c-1"), emulated.NewBME280(addr, emulated.Typical())
				bus.Attach(addr, sensor)
				g := guarded(bus)
				readsUntilGood(t, g, 1)
				c.harm(bus, sensor)
				if c.mend != nil {
					for range 10 {
						for _, r := range g.Read(t.Context(), time.Now()) {
							if r.Quality != sensors.Missing {
								t.Fatalf("%v from a chip that is not well", r)
							}
						}
						time.Sleep(time.Second)
					}
					c.mend(bus, sensor)
				}
				if n := readsUntilGood(t, g, 20); n > c.missing {
					t.Errorf("good again after %d reads, want %d at most", n, c.missing)
				}
			})
		})
	}
}

func TestABusThatHangsHoldsUpNoProbe(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, sensor := emulated.NewI2CBus("i2c-1"), emulated.NewBME280(addr, emulated.Typical())
		bus.Attach(addr, sensor)
		release := make(chan struct{})
		sensor.SetFaults(emulated.Faults{Block: release})
		wire := &emulated.OneWire{Root: t.TempDir()}
		if err := wire.Set("28-0316a2791b5f", 14.5); err != nil {
			t.Fatal(err)
		}
		found, err := kernel.Discover(wire.Root)
		if err != nil || len(found) != 1 {
			t.Fatalf("found %v, %v", found, err)
		}
		air, surface := guarded(bus), poll.NewGuard(poll.Over(found[0]))
		for range 5 {
			for _, r := range air.Read(t.Context(), time.Now()) {
				if r.Quality != sensors.Missing {
					t.Errorf("%v from a bus that hangs", r)
				}
			}
			if got := surface.Read(t.Context(), time.Now()); got[0].Value != 14.5 || got[0].Quality != sensors.Good {
				t.Errorf("the probe reads %v", got)
			}
		}
		if !air.Stuck() || surface.Stuck() {
			t.Errorf("stuck: air %v, surface %v", air.Stuck(), surface.Stuck())
		}
		close(release)
		sensor.SetFaults(emulated.Faults{})
		readsUntilGood(t, air, 20)
	})
}
