package chip_test

import (
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/ads1x15"
	"periph.io/x/devices/v3/ds18b20"
	"periph.io/x/devices/v3/hdc302x"
	"periph.io/x/devices/v3/mcp9808"
	"periph.io/x/devices/v3/pca9548"
	"periph.io/x/devices/v3/tmp102"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
	"recoat/sensors/poll"
)

// These tests hold what the drivers of periph.io/x/devices/v3 v3.7.4 do, beside
// what ours do in the same place. If one fails on the bare driver, that has been
// mended, and ours may do less.

func degrees(t physic.Temperature) float64 { return t.Celsius() }

func TestBareDS18B20TakesPowerOnAndZerosForTemperatures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr := emulated.NewMaster(), emulated.Address(0x0316A2791B5F)
		master.Set(addr, 14)
		dev, err := ds18b20.New(master, addr, 12)
		if err != nil {
			t.Fatal(err)
		}
		for fault, want := range map[emulated.ProbeFault]float64{emulated.PowerOn: 85, emulated.AllZero: 0, emulated.Overranged: 127.9375} {
			master.SetFault(addr, fault)
			var env physic.Env
			if err := dev.Sense(&env); err != nil || degrees(env.Temperature) != want {
				t.Errorf("the bare driver says %v, %v; this check expects %v and no error", degrees(env.Temperature), err, want)
			}
			if got, err := probe(t, master, addr).Read(t.Context()); err == nil || got != nil {
				t.Errorf("ours says %v, %v", got, err)
			}
		}
	})
}

func TestBareDS18B20WritesTheProbesLastingMemory(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		master, addr := emulated.NewMaster(), emulated.Address(1)
		master.Set(addr, 14.4)
		master.SetResolution(addr, 10)
		if got, err := probe(t, master, addr).Read(t.Context()); err != nil || got[0].Value != 14.25 {
			t.Errorf("ours says %v, %v; want 14.25 from a probe of 10 bits", got, err)
		}
		if n := master.LastingWrites(); n != 0 {
			t.Errorf("ours wrote %d times", n)
		}
		if _, err := ds18b20.New(master, addr, 12); err != nil || master.LastingWrites() != 1 {
			t.Errorf("the bare driver wrote %d times, %v; this check expects once", master.LastingWrites(), err)
		}
	})
}

func TestBareHDC302xStaysDeadAfterABrownOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewHDC302x(0x44)
		dev, err := hdc302x.NewI2C(sensor, 0x44, hdc302x.RateTwoHertz)
		if err != nil {
			t.Fatal(err)
		}
		sensor.BrownOut()
		for range 60 {
			time.Sleep(10 * time.Second)
			var env physic.Env
			if dev.Sense(&env) == nil {
				t.Fatal("the bare driver came back; this check expects it not to")
			}
		}
		g := guarding(t, "hdc302x", sensor)
		g.Read(t.Context(), time.Now())
		sensor.BrownOut()
		for n := 0; ; n++ {
			time.Sleep(10 * time.Second)
			if got := g.Read(t.Context(), time.Now()); got[0].Quality == sensors.Good {
				break
			} else if n == 2 {
				t.Fatalf("ours is not back after %d reads: %+v", n, g.Health())
			}
		}
	})
}

// guarding puts the guard of the agent before a chip of a kind.
func guarding(t *testing.T, name string, dev device) *poll.Guard {
	t.Helper()
	for _, k := range chip.Kinds(chip.Emissivity) {
		if k.Name == name {
			return poll.NewGuard(poll.GuardConfig{Name: name, Channels: k.Channels, Deadline: k.Deadline,
				Open: func() (sensors.Source, error) { return k.Open(dev, k.Addresses[0], "i2c-1") }})
		}
	}
	t.Fatalf("no kind is called %s", name)
	return nil
}

func TestBareMCP9808TakesNoConversionAndADeadWireForTemperatures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewMCP9808(0x18)
		ours, err := chip.OpenMCP9808(sensor, 0x18, "i2c-1")
		if err != nil {
			t.Fatal(err)
		}
		bare, err := mcp9808.New(sensor, &mcp9808.Opts{Addr: 0x18})
		if err != nil {
			t.Fatal(err)
		}
		harm := map[string]func(){
			"power-on":  sensor.BrownOut,
			"wire low":  func() { sensor.SetFaults(emulated.Low()) },
			"wire high": func() { sensor.SetFaults(emulated.High()) },
		}
		for name, do := range harm {
			sensor.SetFaults(emulated.Faults{})
			do()
			var env physic.Env
			if err := bare.Sense(&env); err != nil || !near(degrees(env.Temperature), 0, 0.07) {
				t.Errorf("%s: the bare driver says %v, %v; this check expects about 0 °C and no error", name, degrees(env.Temperature), err)
			}
			if got, err := ours.Read(t.Context()); err == nil || got != nil {
				t.Errorf("%s: ours says %v, %v", name, got, err)
			}
			time.Sleep(time.Second)
		}
		sensor.SetFaults(emulated.Faults{NoAnswer: true})
		var env physic.Env
		if err := bare.Sense(&env); err == nil || env.Temperature != 0 {
			t.Errorf("the bare driver says %v, %v; this check expects 0 K beside its error", env.Temperature, err)
		}
	})
}

func TestAnMCP9808AtExactlyZeroIsRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewMCP9808(0x18)
		sensor.Set(0)
		s, err := chip.OpenMCP9808(sensor, 0x18, "i2c-1")
		if err != nil {
			t.Fatal(err)
		}
		if got, err := s.Read(t.Context()); err != nil || got[0].Value != 0 {
			t.Errorf("%v, %v; want 0 °C", got, err)
		}
	})
}

func TestBareTMP102TakesADeadWireForATemperature(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewTMP102(0x48)
		bare, err := tmp102.NewI2C(sensor, 0x48, nil)
		if err != nil {
			t.Fatal(err)
		}
		ours, err := chip.OpenTMP102(sensor, 0x48, "i2c-1")
		if err != nil {
			t.Fatal(err)
		}
		for want, f := range map[float64]emulated.Faults{0: emulated.Low(), -0.0625: emulated.High()} {
			sensor.SetFaults(f)
			var env physic.Env
			if err := bare.Sense(&env); err != nil || degrees(env.Temperature) != want {
				t.Errorf("the bare driver says %v, %v; this check expects %v and no error", degrees(env.Temperature), err, want)
			}
			if got, err := ours.Read(t.Context()); err == nil || got != nil {
				t.Errorf("ours says %v, %v", got, err)
			}
		}
	})
}

func TestBareADS1115ReturnsTheInputBefore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewADS1115(0x48) // its clock is 10 % slow
		sensor.Set(0, 2.5)
		sensor.Set(1, divider.Volts(25))
		dev, err := ads1x15.NewADS1115(sensor, &ads1x15.Opts{I2cAddress: 0x48})
		if err != nil {
			t.Fatal(err)
		}
		var volts [2]float64
		for i, c := range []ads1x15.Channel{ads1x15.Channel0, ads1x15.Channel1} {
			pin, err := dev.PinForChannel(c, 3300*physic.MilliVolt, 64*physic.Hertz, ads1x15.BestQuality)
			if err != nil {
				t.Fatal(err)
			}
			sample, err := pin.Read()
			if err != nil {
				t.Fatal(err)
			}
			volts[i] = float64(sample.V) / float64(physic.Volt)
			time.Sleep(10 * time.Millisecond)
		}
		if !near(volts[1], 2.5, 0.001) {
			t.Errorf("the bare driver reads %v V at input 1; this check expects the 2.5 V of input 0", volts[1])
		}
		s, err := chip.OpenThermistor(chip.NewADC(sensor, 0x48, "i2c-1"), thermistor)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := s.Read(t.Context()); err != nil || !near(got[0].Value, 25, 0.01) {
			t.Errorf("ours says %v, %v; want 25 °C", got, err)
		}
	})
}

// behind returns a multiplexer with a chip behind port 2.
func behind(t *testing.T) (*emulated.PCA9548, *emulated.MCP9808) {
	t.Helper()
	bus := emulated.NewPCA9548(emulated.NewI2CBus("i2c-1"), 0x70)
	sensor := emulated.NewMCP9808(0x18)
	bus.Port(2).Attach(0x18, sensor)
	return bus, sensor
}

func TestBarePCA9548TalksToNobodyAfterABrownOut(t *testing.T) {
	bus, _ := behind(t)
	dev, err := pca9548.New(bus, &pca9548.DefaultOpts)
	if err != nil {
		t.Fatal(err)
	}
	names, err := dev.RegisterPorts("recoat-test-")
	if err != nil {
		t.Fatal(err)
	}
	bare, err := i2creg.Open(names[2])
	if err != nil {
		t.Fatal(err)
	}
	mux, err := chip.OpenMux(bus, 0x70)
	if err != nil {
		t.Fatal(err)
	}
	maker := []byte{0, 0}
	if err := bare.Tx(0x18, []byte{6}, maker); err != nil {
		t.Fatal(err)
	}
	bus.BrownOut()
	for range 5 {
		if bare.Tx(0x18, []byte{6}, maker) == nil {
			t.Error("the bare driver came back; this check expects it not to")
		}
	}
	ours := mux.Port(2)
	if err := ours.Tx(0x18, []byte{6}, maker); err != nil || maker[1] != 0x54 {
		t.Fatalf("ours reads % x, %v", maker, err)
	}
	bus.BrownOut()
	if ours.Tx(0x18, []byte{6}, maker) == nil {
		t.Error("the first transaction after the dip went to nobody, and is no error")
	}
	if err := ours.Tx(0x18, []byte{6}, maker); err != nil || maker[1] != 0x54 {
		t.Errorf("ours reads % x, %v after one error", maker, err)
	}
}
