package buzzer

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"recoat/internal/alert"
)

// recorder is a pin that notes when it was set to what.
type recorder struct {
	gpiotest.Pin
	begun time.Time
	got   []string
	fails int // this setting from the first fails
}

func (r *recorder) Out(l gpio.Level) error {
	r.got = append(r.got, fmt.Sprintf("%d %v", time.Since(r.begun).Milliseconds(), l))
	if len(r.got) == r.fails {
		return errors.New("no such device")
	}
	return r.Pin.Out(l)
}

func channel(t *testing.T, activeLow bool) (*Channel, *recorder) {
	t.Helper()
	r := &recorder{Pin: gpiotest.Pin{N: "GPIO17", Num: 17}, begun: time.Now()}
	c, err := New(r, activeLow)
	if err != nil {
		t.Fatal(err)
	}
	return c, r
}

func TestHowMessagesSound(t *testing.T) {
	critical := []string{"0 Low"}
	for i := range 10 {
		critical = append(critical, fmt.Sprintf("%d High", i*750), fmt.Sprintf("%d Low", i*750+500))
	}
	for name, c := range map[string]struct {
		message   alert.Message
		activeLow bool
		want      []string
	}{
		"mild":       {alert.Message{Cause: alert.First}, false, []string{"0 Low", "0 High", "100 Low"}},
		"warning":    {alert.Message{Severity: alert.Warning}, false, []string{"0 Low", "0 High", "300 Low", "600 High", "900 Low", "1200 High", "1500 Low"}},
		"critical":   {alert.Message{Severity: alert.Critical}, false, critical},
		"over":       {alert.Message{Severity: alert.Critical, Cause: alert.Ended}, false, []string{"0 Low", "0 High", "100 Low"}},
		"active low": {alert.Message{}, true, []string{"0 High", "0 Low", "100 High"}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b, pin := channel(t, c.activeLow)
				if err := b.Send(t.Context(), c.message); err != nil {
					t.Error(err)
				}
				if diff := cmp.Diff(c.want, pin.got); diff != "" {
					t.Error(diff)
				}
			})
		})
	}
}

func TestThePinIsOffWhateverHappens(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, pin := channel(t, false)
		ctx, cancel := context.WithTimeout(t.Context(), 800*time.Millisecond)
		defer cancel()
		err := b.Send(ctx, alert.Message{Severity: alert.Critical})
		if !errors.Is(err, context.DeadlineExceeded) || pin.Read() != gpio.Low || time.Since(pin.begun) != 800*time.Millisecond {
			t.Errorf("after %v: %v, the pin is %v", time.Since(pin.begun), err, pin.Read())
		}
		pin.fails = len(pin.got) + 2
		if err := b.Send(t.Context(), alert.Message{}); err == nil || pin.Read() != gpio.Low {
			t.Errorf("%v, the pin is %v", err, pin.Read())
		}
	})
	r := &recorder{Pin: gpiotest.Pin{N: "GPIO17"}, fails: 1}
	if _, err := New(r, false); err == nil || err.Error() != "buzzer on pin GPIO17: no such device" {
		t.Errorf("a pin that is not there: %v", err)
	}
}
