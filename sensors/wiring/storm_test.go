package wiring

import (
	"context"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
	"recoat/sensors/poll"
)

// bubbleClock counts from its start by the time of the test's bubble.
type bubbleClock struct{ start time.Time }

func (c bubbleClock) Now() poll.Instant {
	return poll.Instant{Wall: time.Now(), Uptime: time.Since(c.start), Set: true}
}

// run samples every ten seconds for as long and hands each round to take.
func run(t *testing.T, s Sensors, length time.Duration, take func(sensors.Round)) *poll.Loop {
	t.Helper()
	l, err := poll.NewLoop(poll.LoopConfig{
		Node: "shelf", Boot: "b", First: 1, Period: 10 * time.Second, Clock: bubbleClock{time.Now()},
		Buses: s.Buses, Emit: func(_ context.Context, r sensors.Round) { take(r) },
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), length)
	defer cancel()
	if err := l.Run(ctx); err != nil {
		t.Fatal(err)
	}
	return l
}

// A bus that hangs for ever costs its own chips, and no other bus a reading.
func TestOneBusHangingDelaysNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hung, sound := emulated.NewI2CBus("I2C1"), emulated.NewI2CBus("I2C3")
		stuck := emulated.NewSHT4x(0x44, 1)
		hung.Attach(0x44, stuck)
		hung.Attach(0x18, emulated.NewMCP9808(0x18))
		sound.Attach(0x45, emulated.NewSHT3x(0x45, 1))
		sound.Attach(0x19, emulated.NewMCP9808(0x19))
		taken := &channels{}
		var s Sensors
		for _, bus := range []*emulated.I2CBus{hung, sound} {
			s.addBus(bus, Real{}, taken)
		}
		release := make(chan struct{})
		stuck.SetFaults(emulated.Faults{Block: release})
		start := time.Now()
		rounds := 0
		loop := run(t, s, time.Hour-time.Second, func(r sensors.Round) {
			rounds++
			if off := time.Since(start) % (10 * time.Second); off > 3*time.Second {
				t.Errorf("round %d is emitted %s late", r.Seq, off)
			}
			for _, c := range []string{"air-temperature:3-0045", "relative-humidity:3-0045", "surface-temperature:3-0019"} {
				channel, err := sensors.ParseChannel(c)
				if err != nil {
					t.Fatal(err)
				}
				// An SHT3x's first reading after power-on is held.
				if _, ok := r.Value(channel); !ok && r.Seq > 1 {
					t.Errorf("round %d lacks %s: %v", r.Seq, c, r.Readings)
				}
			}
		})
		if rounds != 360 || loop.Stuck() != 2 {
			t.Errorf("%d rounds, %d stuck; want 360 and the 2 chips of the bus", rounds, loop.Stuck())
		}
		close(release)
		time.Sleep(time.Minute) // for the late reads to end
	})
}

// faulty is a chip of the storm.
type faulty struct {
	set      func(emulated.Faults)
	brownOut func()
}

// strike gives one chip a fault, or mends it.
func (f faulty) strike(rng *rand.Rand) {
	switch rng.IntN(8) {
	case 0:
		f.set(emulated.Faults{NoAnswer: true})
	case 1:
		f.set(emulated.Low())
	case 2:
		f.set(emulated.High())
	case 3:
		f.set(emulated.Faults{StuckStatus: true})
	case 4:
		f.set(emulated.Faults{Delay: time.Duration(rng.IntN(5000)) * time.Millisecond})
	case 5:
		block := make(chan struct{})
		time.AfterFunc(time.Duration(rng.IntN(600))*time.Second, func() { close(block) })
		f.set(emulated.Faults{Block: block})
	case 6:
		f.brownOut()
	default:
		f.set(emulated.Faults{})
	}
}

// A day of faults at random: what is good is what the chips are in, the number of
// goroutines stays within two a sensor, and in the end all come back.
func TestADayOfFaults(t *testing.T) {
	const seed = 20260301
	synctest.Test(t, func(t *testing.T) {
		rng := rand.New(rand.NewPCG(seed, seed))
		one, other := emulated.NewI2CBus("I2C1"), emulated.NewI2CBus("I2C3")
		sht3x, sht4x, hdc, aht := emulated.NewSHT3x(0x45, 1), emulated.NewSHT4x(0x44, 2), emulated.NewHDC302x(0x44), emulated.NewAHT20()
		mcp, tmp, bme := emulated.NewMCP9808(0x18), emulated.NewTMP102(0x48), emulated.NewBME280(0x76, emulated.Typical())
		one.Attach(0x45, sht3x)
		one.Attach(0x44, sht4x)
		one.Attach(0x18, mcp)
		one.Attach(0x76, bme)
		other.Attach(0x44, hdc)
		other.Attach(0x38, aht)
		other.Attach(0x48, tmp)
		taken := &channels{}
		var s Sensors
		for _, bus := range []*emulated.I2CBus{one, other} {
			s.addBus(bus, Real{Emissivity: chip.Emissivity}, taken)
		}
		chips := []faulty{
			{sht3x.SetFaults, sht3x.BrownOut}, {sht4x.SetFaults, sht4x.BrownOut}, {hdc.SetFaults, hdc.BrownOut}, {aht.SetFaults, aht.BrownOut},
			{mcp.SetFaults, mcp.BrownOut}, {tmp.SetFaults, tmp.BrownOut}, {bme.SetFaults, bme.BrownOut},
		}
		most := goroutines() + 2*len(s.Guards())
		good, last := 0, sensors.Round{}
		loop := run(t, s, 24*time.Hour, func(r sensors.Round) {
			if r.Seq%10 == 0 && goroutines() > most {
				t.Errorf("seed %d, round %d: more than %d goroutines", seed, r.Seq, most)
			}
			good += lies(t, r)
			last = r
			switch f := chips[rng.IntN(len(chips))]; {
			case r.Uptime > 23*time.Hour:
				for _, f := range chips {
					f.set(emulated.Faults{})
				}
			case rng.IntN(6) == 0:
				f.strike(rng)
			}
		})
		time.Sleep(10 * time.Minute) // for the last blocked transactions to end
		for _, r := range last.Readings {
			if r.Quality != sensors.Good {
				t.Errorf("seed %d: in the end %s is %s: %+v", seed, r.Channel, r.Quality, loop.Health())
			}
		}
		if total := len(last.Readings) * 8640; good < total/10 || good > total*9/10 {
			t.Errorf("seed %d: %d of %d readings are good: that was no storm, or nothing but storm", seed, good, total)
		}
	})
}

// goroutines counts by their stacks, with the world stopped: the runtime's own
// count is off by a batch of 32 while it moves used ones from list to list.
func goroutines() int {
	stacks := make([]byte, 1<<20)
	return strings.Count("\n\n"+string(stacks[:runtime.Stack(stacks, true)]), "\n\ngoroutine ")
}

// lies counts the good readings of a round, and reports those that are not what
// every chip of the storm is in: 20 °C, 50 % and standard pressure.
func lies(t *testing.T, r sensors.Round) (good int) {
	t.Helper()
	truth := map[sensors.Quantity]float64{
		sensors.AirTemperature: 20, sensors.SurfaceTemperature: 20, sensors.AirHumidity: 50, sensors.AirPressure: float64(sensors.StandardPressure),
	}
	for _, x := range r.Readings {
		if x.Quality != sensors.Good {
			continue
		}
		good++
		if want := truth[x.Channel.Quantity]; x.Value < want*0.99 || x.Value > want*1.01 {
			t.Errorf("round %d: %s is %v and called good, want %v", r.Seq, x.Channel, x.Value, want)
		}
	}
	return good
}
