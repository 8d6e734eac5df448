package emulated

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
)

// The worked example of BST-BMP280-DS001, section 3.12: adc_T 519888 and adc_P
// 415148 are 25.08 °C and 100653.27 Pa (from memory of the datasheet; the driver
// of periph.io agrees to 0.02 Pa). The humidity is computed from section 8.1 of
// BST-BME280-DS002, which has no example of its own.
func TestCompensationFollowsTheDatasheet(t *testing.T) {
	cal := Typical()
	fine := cal.fine(519888)
	checks := []struct {
		what            string
		got, want, span float64
	}{
		{"t_fine", fine, 128422, 0.5},
		{"temperature", cal.celsius(519888), 25.08, 0.005},
		{"pressure", cal.pascals(415148, fine), 100653.27, 0.01},
		{"humidity", cal.percent(30000, 128422), 60.278, 0.0005},
	}
	for _, c := range checks {
		if math.Abs(c.got-c.want) > c.span {
			t.Errorf("%s: %v, want %v within %v", c.what, c.got, c.want, c.span)
		}
	}
}

// A step of the raw value is 0.00032 °C and 0.0056 %: the nearest is within half.
func TestInversionFindsTheNearestRawValue(t *testing.T) {
	cal := Typical()
	for air := -40.0; air <= 85; air += 0.37 {
		raw, _, h := cal.raws(air, 50, 101325)
		if got := cal.celsius(float64(raw)); math.Abs(got-air) > 0.00017 {
			t.Fatalf("%v °C became raw %d, which is %v °C", air, raw, got)
		}
		if got := cal.percent(float64(h), cal.fine(float64(raw))); math.Abs(got-50) > 0.003 {
			t.Fatalf("50 %% at %v °C became raw %d, which is %v %%", air, h, got)
		}
	}
}

func TestInversionAvoidsTheMarkOfASkippedMeasurement(t *testing.T) {
	cal := Typical()
	at := cal.celsius(skipped20)
	if raw, _, _ := cal.raws(at, 50, 101325); raw != skipped20+1 {
		t.Errorf("%v °C became raw %#x, want the next to %#x", at, raw, skipped20)
	}
}

func transact(t *testing.T, c *BME280, w []byte, n int) []byte {
	t.Helper()
	r := make([]byte, n)
	if err := c.Tx(0x76, w, r); err != nil {
		t.Fatalf("transaction % x: %v", w, err)
	}
	return r
}

// humidity forces a conversion and returns the raw humidity.
func humidity(t *testing.T, c *BME280) uint16 {
	t.Helper()
	transact(t, c, []byte{regCtrlMeas, 0x25}, 0)
	for transact(t, c, []byte{regStatus}, 1)[0]&measuring != 0 {
	}
	h := transact(t, c, []byte{0xFD}, 2)
	return uint16(h[0])<<8 | uint16(h[1])
}

func TestHumiditySettingTakesEffectWithTheNextWriteOfCtrlMeas(t *testing.T) {
	c := NewBME280(0x76, Typical())
	if got := humidity(t, c); got != skipped16 {
		t.Errorf("after power-on humidity reads %#x, want %#x: it is off", got, skipped16)
	}
	transact(t, c, []byte{regCtrlMeas, 0x25}, 0)
	transact(t, c, []byte{regCtrlHum, 1}, 0) // too late for the conversion under way
	for transact(t, c, []byte{regStatus}, 1)[0]&measuring != 0 {
	}
	if h := transact(t, c, []byte{0xFD}, 2); h[0] != 0x80 || h[1] != 0 {
		t.Errorf("ctrl_hum took effect without a write of ctrl_meas: % x", h)
	}
	if got := humidity(t, c); got == skipped16 {
		t.Error("ctrl_hum has not taken effect with ctrl_meas")
	}
}

func TestAForcedConversionShowsInStatusAndEndsAsleep(t *testing.T) {
	c := NewBME280(0x76, Typical())
	before := transact(t, c, []byte{regData}, 8)
	transact(t, c, []byte{regCtrlMeas, 0x25}, 0)
	if transact(t, c, []byte{regStatus}, 1)[0]&measuring == 0 {
		t.Fatal("status does not show the conversion under way")
	}
	if got := transact(t, c, []byte{regData}, 8); string(got) != string(before) {
		t.Error("the data changed before the conversion ended")
	}
	if transact(t, c, []byte{regStatus}, 1)[0]&measuring != 0 {
		t.Fatal("the conversion does not end")
	}
	if got := transact(t, c, []byte{regCtrlMeas}, 1)[0]; got != 0x24 {
		t.Errorf("ctrl_meas is %#x after a forced conversion, want %#x", got, 0x24)
	}
	if got := transact(t, c, []byte{regData}, 8); string(got) == string(before) {
		t.Error("the conversion brought no data")
	}
}

// Reset values: BST-BME280-DS002, table 18.
func TestResetReturnsToThePowerOnState(t *testing.T) {
	for name, reset := range map[string]func(*BME280){
		"reset word": func(c *BME280) { transact(t, c, []byte{regReset, resetWord}, 0) },
		"brown-out":  (*BME280).BrownOut,
	} {
		c := NewBME280(0x76, Typical())
		transact(t, c, []byte{regCtrlHum, 1, regConfig, 0xA0}, 0)
		humidity(t, c)
		reset(c)
		if got := transact(t, c, []byte{regCtrlHum}, 4); string(got) != "\x00\x00\x00\x00" {
			t.Errorf("%s: settings are % x, want zeros", name, got)
		}
		if got := transact(t, c, []byte{regData}, 8); string(got) != "\x80\x00\x00\x80\x00\x00\x80\x00" {
			t.Errorf("%s: data is % x", name, got)
		}
		if got := transact(t, c, []byte{regID}, 1)[0]; got != chipID {
			t.Errorf("%s: id is %#x", name, got)
		}
	}
}

func TestChipRefusesOtherTransfers(t *testing.T) {
	c := NewBME280(0x76, Typical())
	if err := c.Tx(0x77, []byte{regID}, make([]byte, 1)); err == nil {
		t.Error("it answers at another address")
	}
	if err := c.Tx(0x76, []byte{1, 2, 3}, nil); err == nil {
		t.Error("it takes a register without a value")
	}
	c.SetFaults(Faults{NoAnswer: true})
	if err := c.Tx(0x76, []byte{regID}, make([]byte, 1)); err == nil {
		t.Error("it answers although it should not")
	}
}

func TestBusTellsChipsApart(t *testing.T) {
	bus := NewI2CBus("i2c-7")
	first, second := NewBME280(0x76, Typical()), NewBME280(0x77, Typical())
	bus.Attach(0x76, first)
	bus.Attach(0x77, second)
	second.Set(30, 40, sensors.StandardPressure)
	read := func(addr uint16) string {
		r := make([]byte, 3)
		for _, w := range [][]byte{{regCtrlMeas, 0x25}, {regStatus}, {regStatus}, {0xFA}} {
			n := len(r) * (len(w) % 2)
			if err := bus.Tx(addr, w, r[:n]); err != nil {
				t.Fatal(err)
			}
		}
		return string(r)
	}
	if read(0x76) == read(0x77) {
		t.Error("both chips give the same temperature")
	}
	bus.Detach(0x77)
	if err := bus.Tx(0x77, []byte{regID}, make([]byte, 1)); err == nil {
		t.Error("a chip taken away still answers")
	}
}

func TestFaultsHoldATransactionUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewBME280(0x76, Typical())
		start := time.Now()
		c.SetFaults(Faults{Delay: 30 * time.Millisecond})
		transact(t, c, []byte{regID}, 1)
		if took := time.Since(start); took != 30*time.Millisecond {
			t.Errorf("a slow transaction took %s", took)
		}
		block := make(chan struct{})
		c.SetFaults(Faults{Block: block})
		time.AfterFunc(time.Hour, func() { close(block) })
		transact(t, c, []byte{regID}, 1)
		if took := time.Since(start); took != time.Hour+30*time.Millisecond {
			t.Errorf("a blocked transaction ended after %s", took)
		}
	})
}
