package poll

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/sensors"
)

var (
	air     = sensors.Channel{Quantity: sensors.AirTemperature}
	damp    = sensors.Channel{Quantity: sensors.AirHumidity}
	surface = sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-0316a2791b5f"}
)

// script is a source that does what the test says.
type script struct {
	channels []sensors.Channel
	read     func(context.Context) ([]sensors.Reading, error)
}

func (s *script) Name() string                                        { return "script" }
func (s *script) Channels() []sensors.Channel                         { return s.channels }
func (s *script) Read(ctx context.Context) ([]sensors.Reading, error) { return s.read(ctx) }
func always(r ...sensors.Reading) func(context.Context) ([]sensors.Reading, error) {
	return func(context.Context) ([]sensors.Reading, error) { return r, nil }
}

var pair = []sensors.Channel{air, damp}

func missing(channels ...sensors.Channel) []sensors.Reading {
	var none []sensors.Reading
	for _, c := range channels {
		none = append(none, sensors.Reading{Channel: c, Quality: sensors.Missing})
	}
	return none
}

func TestGuardListsEveryChannelWhateverTheSourceGives(t *testing.T) {
	good := sensors.Reading{Channel: air, Value: 20}
	table := []struct {
		name string
		got  []sensors.Reading
		err  error
		want []sensors.Reading
	}{
		{"both", []sensors.Reading{{Channel: damp, Value: 50}, good}, nil, []sensors.Reading{good, {Channel: damp, Value: 50}}},
		{"one of them", []sensors.Reading{good}, nil, []sensors.Reading{good, missing(damp)[0]}},
		{"one it never listed", []sensors.Reading{good, {Channel: surface, Value: 3}}, nil, []sensors.Reading{good, missing(damp)[0]}},
		{"one twice", []sensors.Reading{good, {Channel: air, Value: 30}}, nil, []sensors.Reading{good, missing(damp)[0]}},
		{"none", nil, nil, missing(air, damp)},
		{"values with an error", []sensors.Reading{good}, errors.New("bus"), missing(air, damp)},
		{"a value marked missing", []sensors.Reading{good, {Channel: damp, Value: 7, Quality: sensors.Missing}}, nil, []sensors.Reading{good, missing(damp)[0]}},
	}
	for _, c := range table {
		g := NewGuard(Over(&script{pair, func(context.Context) ([]sensors.Reading, error) { return c.got, c.err }}))
		if diff := cmp.Diff(c.want, g.Read(t.Context(), time.Now())); diff != "" {
			t.Errorf("%s: want -, got +\n%s", c.name, diff)
		}
		if ok := c.want[0].Quality != sensors.Missing; g.Health().OK != ok {
			t.Errorf("%s: health is %+v", c.name, g.Health())
		}
	}
}

func TestGuardReportsHealth(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var fault error
		g := NewGuard(Over(&script{pair, func(context.Context) ([]sensors.Reading, error) {
			time.Sleep(40 * time.Millisecond)
			return []sensors.Reading{{Channel: air, Value: 20}}, fault
		}}))
		if h := g.Health(); h.OK || h.Err == "" || h.Source != "script" {
			t.Errorf("before the first read: %+v", h)
		}
		first := time.Now()
		g.Read(t.Context(), first)
		fault = errors.New("no answer")
		time.Sleep(time.Minute)
		g.Read(t.Context(), time.Now())
		time.Sleep(time.Minute)
		g.Read(t.Context(), time.Now())
		want := sensors.Health{Source: "script", Err: "no answer", Took: 40 * time.Millisecond, LastGood: first, Failures: 2}
		if diff := cmp.Diff(want, g.Health()); diff != "" {
			t.Errorf("want -, got +\n%s", diff)
		}
	})
}

func TestASourceThatHangsCostsOneDeadlineAndOneGoroutine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		opened, begun := 0, 0
		s := &script{channels: pair}
		s.read = func(context.Context) ([]sensors.Reading, error) {
			begun++
			if begun == 1 {
				<-release
			}
			return []sensors.Reading{{Channel: air, Value: float64(begun)}}, nil
		}
		cfg := Over(s)
		cfg.Open = func() (sensors.Source, error) { opened++; return s, nil }
		cfg.Deadline = 500 * time.Millisecond
		g := NewGuard(cfg)

		start := time.Now()
		for range 100 {
			if diff := cmp.Diff(missing(air, damp), g.Read(t.Context(), time.Now())); diff != "" {
				t.Fatalf("want -, got +\n%s", diff)
			}
		}
		if took := time.Since(start); took != cfg.Deadline {
			t.Errorf("100 reads took %s, want one deadline, %s", took, cfg.Deadline)
		}
		synctest.Wait()
		if begun != 1 || !g.Stuck() {
			t.Errorf("%d reads were begun, stuck is %v; want one and true", begun, g.Stuck())
		}

		close(release)
		synctest.Wait()
		time.Sleep(afterFailure.longest)
		got := g.Read(t.Context(), time.Now())
		if got[0].Value != 2 || g.Stuck() || opened != 2 {
			t.Errorf("once back: %v, stuck %v, opened %d times; want the value of a new read from a source opened anew", got, g.Stuck(), opened)
		}
	})
}

func TestGuardBoundsOpenToo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		g := NewGuard(GuardConfig{Name: "x", Channels: pair, Open: func() (sensors.Source, error) {
			<-release
			return nil, errors.New("gone")
		}})
		start := time.Now()
		g.Read(t.Context(), start)
		if took := time.Since(start); took != DefaultDeadline {
			t.Errorf("took %s, want %s", took, DefaultDeadline)
		}
		close(release)
	})
}

func TestGuardStartsAFailedSourceAgainEverMoreSeldom(t *testing.T) {
	start := time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)
	now := start
	working := false
	state := func() error {
		if working {
			return nil
		}
		return errors.New("no answer")
	}
	source := &script{pair, func(context.Context) ([]sensors.Reading, error) {
		return []sensors.Reading{{Channel: air, Value: 20}}, state()
	}}
	var opened []int64 // seconds after start
	g := NewGuard(GuardConfig{Name: "x", Channels: pair, Open: func() (sensors.Source, error) {
		opened = append(opened, int64(now.Sub(start)/time.Second))
		return source, state()
	}})
	readFor := func(seconds int) {
		for range seconds {
			g.Read(t.Context(), now)
			now = now.Add(time.Second)
		}
	}

	readFor(200)
	if want := []int64{0, 1, 3, 7, 15, 31, 63, 123, 183}; !slices.Equal(opened, want) {
		t.Errorf("opened at %d s, want %d", opened, want)
	}
	if h := g.Health(); h.Err != "no answer" || h.Failures != 200 {
		t.Errorf("health is %+v", h)
	}

	working, opened = true, nil
	readFor(100)
	if want := []int64{243}; !slices.Equal(opened, want) || !g.Health().OK {
		t.Errorf("once it works: opened at %d s, want %d; health %+v", opened, want, g.Health())
	}

	working, opened = false, nil
	readFor(10) // the read at 300 s fails, then opening does
	if want := []int64{301, 303, 307}; !slices.Equal(opened, want) {
		t.Errorf("when it fails again: opened at %d s, want %d", opened, want)
	}
}

func TestAClockSetBackDoesNotLengthenAPause(t *testing.T) {
	tries := 0
	g := NewGuard(GuardConfig{Name: "x", Channels: pair, Open: func() (sensors.Source, error) {
		tries++
		return nil, errors.New("no answer")
	}})
	now := time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)
	g.Read(t.Context(), now)
	g.Read(t.Context(), now.AddDate(0, 0, -90))
	if tries != 2 {
		t.Errorf("tried %d times, want 2", tries)
	}
}

func TestJudge(t *testing.T) {
	table := []struct {
		channel sensors.Channel
		value   float64
		want    sensors.Quality
	}{
		{air, 20, sensors.Good},
		{air, 85, sensors.Suspect}, // a fault code of surface probes only
		{air, -273.15, sensors.Missing},
		{air, 60, sensors.Good}, {air, 60.01, sensors.Suspect}, {air, -20, sensors.Good}, {air, -20.01, sensors.Suspect},
		{damp, 100, sensors.Good}, {damp, 0, sensors.Suspect}, {damp, 100.5, sensors.Missing}, {damp, -1, sensors.Missing},
		{surface, 85, sensors.Missing}, {surface, 127.9375, sensors.Missing}, {surface, 127.937, sensors.Missing}, {surface, 127.94, sensors.Missing},
		{surface, 84.9375, sensors.Suspect}, {surface, 0, sensors.Good},
		{sensors.Channel{Quantity: sensors.AirPressure}, 101325, sensors.Good},
		{sensors.Channel{Quantity: sensors.AirPressure}, 0, sensors.Missing},
	}
	for _, c := range table {
		got, err := judge(sensors.Reading{Channel: c.channel, Value: c.value})
		if got.Quality != c.want || (err != nil) != (c.want == sensors.Missing) {
			t.Errorf("%s %v: %v, %v; want %v", c.channel, c.value, got.Quality, err, c.want)
		}
		if got.Quality == sensors.Missing && got.Value != 0 {
			t.Errorf("%s %v: missing with a value, %v", c.channel, c.value, got.Value)
		}
	}
	held := sensors.Reading{Channel: air, Value: 70, Quality: sensors.Held}
	if got, err := judge(held); got != held || err != nil {
		t.Errorf("a held reading became %v, %v", got, err)
	}
}

func TestARefusedValueIsAFailureThatSaysWhy(t *testing.T) {
	g := NewGuard(Over(&script{[]sensors.Channel{surface}, always(sensors.Reading{Channel: surface, Value: 85})}))
	g.Read(t.Context(), time.Now())
	if h := g.Health(); h.OK || !strings.Contains(h.Err, "85 Cel") || !strings.Contains(h.Err, surface.String()) {
		t.Errorf("health is %+v", h)
	}
}
