package chip_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"recoat/sensors"
	"recoat/sensors/emulated"
)

// reading bounds a read as a guard does.
func reading(t *testing.T, s sensors.Source) ([]sensors.Reading, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 6*time.Second)
	defer cancel()
	return s.Read(ctx)
}

// each runs a test for every rig that it is for, in a bubble of its own: the
// chips count time from when they are made.
func each(t *testing.T, of func(rig) bool, test func(*testing.T, rig)) {
	t.Helper()
	for i, r := range rigs() {
		if of(r) {
			t.Run(r.name, func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) { test(t, rigs()[i]) })
			})
		}
	}
}

func every(rig) bool { return true }

func called(names ...string) func(rig) bool {
	return func(r rig) bool { return slices.Contains(names, r.name) }
}

// The emulated chips invert the datasheet's conversion; what comes back is what
// was set, to half a step.
func TestChipsGiveWhatTheyAreIn(t *testing.T) {
	each(t, every, func(t *testing.T, r rig) {
		s := r.started(t)
		for at := sensors.Celsius(-5.3); at < 50; at += 7.7 {
			rh := sensors.RelativeHumidity(30 + at)
			r.put(at, rh)
			time.Sleep(6 * time.Second) // for chips that measure by themselves
			_, _ = reading(t, s)        // and for the old value in their register
			time.Sleep(6 * time.Second)
			got, err := reading(t, s)
			if err != nil || len(got) != len(s.Channels()) {
				t.Fatalf("%v, %v", got, err)
			}
			r.compare(t, got, float64(at), float64(rh))
		}
	})
}

func (r rig) compare(t *testing.T, got []sensors.Reading, at, rh float64) {
	t.Helper()
	for i, x := range got {
		want := at
		switch x.Channel.Quantity {
		case sensors.AirHumidity:
			want = rh
		case sensors.CarbonDioxide:
			want = 400 + 20*at
		}
		if !near(x.Value, want, r.span[i]) {
			t.Errorf("%s is %v, want %v", x.Channel, x.Value, want)
		}
		// A chip's first measurement after power-on may be held.
		if x.Quality != sensors.Good {
			t.Errorf("%s is %s", x.Channel, x.Quality)
		}
	}
}

// refuses checks that a read gives an error and nothing else.
func (r rig) refuses(t *testing.T, s sensors.Source, when string) {
	t.Helper()
	got, err := reading(t, s)
	if err == nil || got != nil {
		t.Errorf("%s: it gives %v, %v", when, got, err)
		return
	}
	if !strings.Contains(err.Error(), s.Name()) {
		t.Errorf("%s: the error does not say which chip: %v", when, err)
	}
}

func TestFaultsOfEveryChipAreErrors(t *testing.T) {
	each(t, every, func(t *testing.T, r rig) {
		r.put(21, 55)
		faults := map[string]emulated.Faults{"no answer": {NoAnswer: true}, "wire high": emulated.High()}
		if r.lowIsNone {
			faults["wire low"] = emulated.Low()
		}
		if r.checked {
			faults["garbled"] = emulated.Garbled(7)
		}
		for when, f := range faults {
			r.device.SetFaults(emulated.Faults{})
			s := r.started(t)
			time.Sleep(time.Second)
			r.device.SetFaults(f)
			r.refuses(t, s, when)
			if opened, err := r.open(); err == nil {
				r.refuses(t, opened, when+", opened anew")
			}
		}
	})
}

// A conversion that never ends gives an error, never the value of the one before,
// and opening anew does not hide it.
func TestAConversionThatNeverEndsIsAnError(t *testing.T) {
	each(t, func(r rig) bool { return r.converts }, func(t *testing.T, r rig) {
		r.put(21, 55)
		s := r.started(t)
		time.Sleep(6 * time.Second)
		if _, err := reading(t, s); err != nil {
			t.Fatal(err)
		}
		r.device.SetFaults(emulated.Faults{StuckStatus: true})
		if r.brownOut != nil {
			r.brownOut()
		}
		r.refuses(t, s, "stuck")
	})
}

// After a dip in the supply a chip says so by an error or a held value, and once
// opened anew it is as before.
func TestChipsComeBackAfterADipInTheSupply(t *testing.T) {
	each(t, func(r rig) bool { return r.brownOut != nil }, func(t *testing.T, r rig) {
		r.put(21, 55)
		s := r.started(t)
		time.Sleep(6 * time.Second)
		r.brownOut()
		if got, err := reading(t, s); r.restarts && err == nil && got[0].Quality != sensors.Held {
			t.Errorf("it gives %v as if nothing had been", got)
		}
		s = r.started(t)
		time.Sleep(6 * time.Second)
		got, err := reading(t, s)
		if err != nil {
			t.Fatal(err)
		}
		r.compare(t, got, 21, 55)
	})
}

func TestReadsOfEveryChipHeedTheirContext(t *testing.T) {
	each(t, every, func(t *testing.T, r rig) {
		s := r.started(t)
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if got, err := s.Read(ctx); err == nil || got != nil {
			t.Errorf("%s: %v, %v after the context ended", r.name, got, err)
		}
	})
}

func TestAHeaterHoldsTheReadings(t *testing.T) {
	each(t, called("sht3x", "hdc302x"), func(t *testing.T, r rig) {
		s := r.started(t)
		for cmd, want := range map[byte]sensors.Quality{0x6D: sensors.Held, 0x66: sensors.Good} {
			if err := r.device.Tx(r.addr, []byte{0x30, cmd}, nil); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Second)
			if got, err := reading(t, s); err != nil || got[0].Quality != want || got[1].Quality != want {
				t.Errorf("%s, heater command %#02x: %v, %v; want %s", r.name, cmd, got, err, want)
			}
		}
	})
}

// TI's own forum has an HDC302x give zeros with check sums that fit before its
// first measurement.
func TestZerosWithAGoodCheckSumAreNoMeasurement(t *testing.T) {
	each(t, called("sht3x", "sht4x", "hdc302x"), func(t *testing.T, r rig) {
		s := r.started(t)
		r.device.SetFaults(emulated.Faults{Corrupt: func(cmd byte, got []byte) {
			if cmd == 0x24 || cmd == 0xFD || cmd == 0xE0 {
				copy(got, []byte{0, 0, 0x81, 0, 0, 0x81})
			}
		}})
		r.refuses(t, s, "zeros")
	})
}
