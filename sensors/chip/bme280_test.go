package chip_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
)

const (
	addr    = 0x76
	ctrlHum = 0xF2
	status  = 0xF3
	data    = 0xF7
)

func open(t *testing.T, bus i2c.Bus) *chip.BME280 {
	t.Helper()
	b, err := chip.OpenBME280(bus, addr, "i2c-1")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// values reads air temperature, humidity and pressure.
func values(t *testing.T, b *chip.BME280) (air, rh, p float64) {
	t.Helper()
	got, err := b.Read(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 3 {
		t.Fatalf("%d readings: %v", len(got), got)
	}
	for i, c := range b.Channels() {
		if got[i].Channel != c || got[i].Quality != sensors.Good {
			t.Fatalf("reading %d is %v, want a good one of %v", i, got[i], c)
		}
	}
	return got[0].Value, got[1].Value, got[2].Value
}

func near(got, want, span float64) bool { return math.Abs(got-want) <= span }

// saying replaces what every read of the data registers returns.
func saying(block ...byte) emulated.Faults {
	return emulated.Faults{Corrupt: func(reg byte, got []byte) {
		if reg == data {
			copy(got, block)
		}
	}}
}

// adc_T 519888 and adc_P 415148 are the worked example of BST-BMP280-DS001,
// section 3.12: 25.08 °C, 100653.27 Pa. Raw humidity 30000 is then 60.278 %,
// computed by BST-BME280-DS002, section 8.1.
func TestWorkedExampleOfTheDatasheet(t *testing.T) {
	sensor := emulated.NewBME280(addr, emulated.Typical())
	b := open(t, sensor)
	sensor.SetFaults(saying(0x65, 0x5A, 0xC0, 0x7E, 0xED, 0x00, 0x75, 0x30))
	air, rh, p := values(t, b)
	if !near(air, 25.08, 0.001) || !near(rh, 60.278, 0.001) || !near(p, 100653.27, 0.1) {
		t.Errorf("read %v °C, %v %%, %v Pa", air, rh, p)
	}
}

func TestRoundTripThroughTheRegisters(t *testing.T) {
	signed := emulated.Typical()
	signed.H3, signed.H4, signed.H5, signed.H6 = 4, -5, -30, -20
	for name, cal := range map[string]emulated.Calibration{"usual": emulated.Typical(), "negative H4 and H5": signed} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				sensor := emulated.NewBME280(addr, cal)
				b := open(t, sensor)
				for air := -5.0; air <= 45; air += 2.5 {
					for rh := 5.0; rh <= 99; rh += 4.7 {
						sensor.Set(sensors.Celsius(air), sensors.RelativeHumidity(rh), 98500)
						gotAir, gotRH, gotP := values(t, b)
						if !near(gotAir, air, 0.1) || !near(gotRH, rh, 0.2) || !near(gotP, 98500, 10) {
							t.Fatalf("%v °C, %v %%: read %v °C, %v %%, %v Pa", air, rh, gotAir, gotRH, gotP)
						}
					}
				}
			})
		})
	}
}

// bare reads through the driver of periph.io alone, opened with the same settings.
func bare(t *testing.T, bus i2c.Bus) *bmxx80.Dev {
	t.Helper()
	dev, err := bmxx80.NewI2C(bus, addr, &bmxx80.Opts{Temperature: bmxx80.O2x, Pressure: bmxx80.O1x, Humidity: bmxx80.O1x})
	if err != nil {
		t.Fatal(err)
	}
	return dev
}

func percent(h physic.RelativeHumidity) float64 { return float64(h) / float64(physic.PercentRH) }

// Where neither H4 nor H5 is negative, the driver of periph.io, whose arithmetic
// is the datasheet's in whole numbers, is an independent check.
func TestHumidityAgreesWithTheBareDriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		sensor := emulated.NewBME280(addr, emulated.Typical())
		b, dev := open(t, sensor), bare(t, sensor)
		for rh := sensors.RelativeHumidity(6); rh < 99; rh += 3.1 {
			sensor.Set(17.3, rh, sensors.StandardPressure)
			var env physic.Env
			if err := dev.Sense(&env); err != nil {
				t.Fatal(err)
			}
			if _, got, _ := values(t, b); !near(got, percent(env.Humidity), 0.15) {
				t.Errorf("%v %%: ours %v, the driver's %v", rh, got, percent(env.Humidity))
			}
		}
	})
}

func TestBareDriverLosesTheSignOfH5AndOursKeepsIt(t *testing.T) {
	cal := emulated.Typical()
	cal.H5 = -30
	sensor := emulated.NewBME280(addr, cal)
	sensor.Set(25.08, 61.7, sensors.StandardPressure)
	var env physic.Env
	if err := bare(t, sensor).Sense(&env); err != nil || percent(env.Humidity) != 0 {
		t.Errorf("the bare driver says %v %%, %v; this check expects it to say 0", percent(env.Humidity), err)
	}
	if _, rh, _ := values(t, open(t, sensor)); !near(rh, 61.7, 0.01) {
		t.Errorf("ours says %v %%", rh)
	}
}

func TestABrownOutTheBareDriverMissesIsAnError(t *testing.T) {
	sensor := emulated.NewBME280(addr, emulated.Typical())
	sensor.Set(20, 50, sensors.StandardPressure)
	b, dev := open(t, sensor), bare(t, sensor)
	sensor.BrownOut()

	var env physic.Env
	if err := dev.Sense(&env); err != nil || near(percent(env.Humidity), 50, 5) {
		t.Errorf("the bare driver says %v %%, %v; this check expects a wrong humidity without an error", percent(env.Humidity), err)
	}
	got, err := b.Read(t.Context())
	if err == nil || got != nil || !strings.Contains(err.Error(), "supply dipped") {
		t.Errorf("ours says %v, %v", got, err)
	}
	if _, rh, _ := values(t, open(t, sensor)); !near(rh, 50, 0.2) {
		t.Errorf("opened anew it says %v %%", rh)
	}
}

func TestBlocksTheBareDriverTakesForAirAreRefused(t *testing.T) {
	skipped := []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0}
	table := []struct {
		name  string
		block []byte
	}{
		{"all zero", make([]byte, 8)},
		{"all ones", []byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}},
		{"everything skipped", skipped},
		{"pressure skipped", []byte{0x80, 0, 0, 0x7E, 0xED, 0, 0x75, 0x30}},
		{"temperature skipped", []byte{0x65, 0x5A, 0xC0, 0x80, 0, 0, 0x75, 0x30}},
		{"humidity skipped", []byte{0x65, 0x5A, 0xC0, 0x7E, 0xED, 0, 0x80, 0}},
	}
	for _, c := range table {
		sensor := emulated.NewBME280(addr, emulated.Typical())
		b, dev := open(t, sensor), bare(t, sensor)
		sensor.SetFaults(saying(c.block...))
		var env physic.Env
		if err := dev.Sense(&env); err != nil {
			t.Errorf("%s: the bare driver says %v; this check expects it to say nothing", c.name, err)
		}
		if got, err := b.Read(t.Context()); err == nil || got != nil {
			t.Errorf("%s: taken for %v", c.name, got)
		}
	}
}

// A true value may coincide with the mark of a skipped measurement; the next
// conversion then says something else.
func TestACoincidenceIsReadAgain(t *testing.T) {
	sensor := emulated.NewBME280(addr, emulated.Typical())
	b := open(t, sensor)
	reads := 0
	sensor.SetFaults(emulated.Faults{Corrupt: func(reg byte, got []byte) {
		if reg == data && reads == 0 {
			copy(got[6:], []byte{0x80, 0})
			reads++
		}
	}})
	if _, rh, _ := values(t, b); reads != 1 || !near(rh, 50, 0.2) {
		t.Errorf("read %v %% after %d coincidences", rh, reads)
	}
}

// patient is a bus that gives up on a driver that does not.
type patient struct {
	i2c.Bus
	polls int
}

func (p *patient) Tx(addr uint16, w, r []byte) error {
	if len(w) == 1 && w[0] == status {
		if p.polls++; p.polls > 10000 {
			return errors.New("given up")
		}
	}
	return p.Bus.Tx(addr, w, r)
}

func TestAConversionThatNeverEndsEndsOurRead(t *testing.T) {
	sensor := emulated.NewBME280(addr, emulated.Typical())
	theirs, ours := &patient{Bus: sensor}, &patient{Bus: sensor}
	b, dev := open(t, ours), bare(t, theirs)
	sensor.SetFaults(emulated.Faults{StuckStatus: true})

	var env physic.Env
	if err := dev.Sense(&env); err == nil || theirs.polls <= 10000 {
		t.Errorf("the bare driver asked %d times and said %v; this check expects it to ask for ever", theirs.polls, err)
	}
	if got, err := b.Read(t.Context()); err == nil || got != nil || ours.polls > 1000 {
		t.Errorf("ours asked %d times and said %v, %v", ours.polls, got, err)
	}
}

func TestEveryFaultOfAReadIsAnErrorThatSaysWhat(t *testing.T) {
	table := []struct {
		name   string
		faults emulated.Faults
		says   string
	}{
		{"no answer", emulated.Faults{NoAnswer: true}, "acknowledges"},
		{"another chip", emulated.Faults{Corrupt: func(reg byte, got []byte) {
			if reg == 0xD0 {
				got[0] = 0x58
			}
		}}, "calls itself 0x58"},
		{"humidity off", emulated.Faults{Corrupt: func(reg byte, got []byte) {
			if reg == ctrlHum {
				got[0] = 0
			}
		}}, "lost its settings"},
		{"never done", emulated.Faults{StuckStatus: true}, "does not end"},
	}
	for _, c := range table {
		sensor := emulated.NewBME280(addr, emulated.Typical())
		b := open(t, sensor)
		sensor.SetFaults(c.faults)
		got, err := b.Read(t.Context())
		if err == nil || got != nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "bme280 at i2c-1 0x76") {
			t.Errorf("%s: %v, %v; want an error on %q", c.name, got, err, c.says)
		}
	}
}

func TestReadHeedsItsContext(t *testing.T) {
	b := open(t, emulated.NewBME280(addr, emulated.Typical()))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if got, err := b.Read(ctx); err == nil || got != nil {
		t.Errorf("read %v, %v after the context ended", got, err)
	}
}

func TestOpenRefusesWhatIsNotAChipThatWorks(t *testing.T) {
	table := []struct {
		name   string
		faults emulated.Faults
		says   string
	}{
		{"no answer", emulated.Faults{NoAnswer: true}, "acknowledges"},
		{"zeros", emulated.Faults{Corrupt: func(_ byte, got []byte) { clear(got) }}, "calls itself 0x00"},
		{"a blank calibration", emulated.Faults{Corrupt: func(reg byte, got []byte) {
			if reg == 0x88 || reg == 0xE1 {
				clear(got)
			}
		}}, "blank"},
		{"a calibration that never loads", emulated.Faults{Corrupt: func(reg byte, got []byte) {
			if reg == status {
				got[0] |= 1
			}
		}}, "loading"},
	}
	for _, c := range table {
		sensor := emulated.NewBME280(addr, emulated.Typical())
		sensor.SetFaults(c.faults)
		_, err := chip.OpenBME280(sensor, addr, "i2c-1")
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want an error on %q", c.name, err, c.says)
		}
	}
	elsewhere := emulated.NewBME280(0x40, emulated.Typical())
	if _, err := chip.OpenBME280(elsewhere, 0x40, "i2c-1"); err == nil {
		t.Error("an address no BME280 has is accepted")
	}
}

func TestOpenBusNamesTheBusItCannotOpen(t *testing.T) {
	bus, err := chip.OpenBus("no-such-bus")
	if err == nil {
		t.Fatalf("opened %v", bus)
	}
	if !strings.Contains(err.Error(), "no-such-bus") {
		t.Errorf("the error does not name it: %v", err)
	}
}
