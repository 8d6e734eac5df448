package alert

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

// stub is a channel whose answers the test chooses.
type stub struct {
	name   string
	answer func(ctx context.Context, m Message) error

	mu    sync.Mutex
	got   []Message
	times []time.Time
}

func (s *stub) Name() string { return s.name }

func (s *stub) Send(ctx context.Context, m Message) error {
	s.mu.Lock()
	s.got, s.times = append(s.got, m), append(s.times, time.Now())
	s.mu.Unlock()
	if s.answer == nil {
		return nil
	}
	return s.answer(ctx, m)
}

func (s *stub) titles() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []string
	for _, m := range s.got {
		all = append(all, m.Title)
	}
	return all
}

// run starts a courier and returns what stops it and waits for its end.
func run(t *testing.T, o *Outbox, log *bytes.Buffer, channels ...Channel) (stop func()) {
	t.Helper()
	c, err := NewCourier(CourierConfig{
		Outbox: o, Channels: channels, Log: slog.New(slog.NewTextHandler(log, nil)),
		Now: time.Now, Jitter: func() float64 { return 0.5 },
	})
	must(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	return func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// inBubble runs do with an open outbox, inside testing/synctest.
func inBubble(t *testing.T, do func(t *testing.T, o *Outbox)) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		o, err := OpenOutbox(t.Context(), dir+"/outbox.db")
		must(t, err)
		defer func() { must(t, o.Close()) }()
		do(t, o)
	})
}

// raiseNow commits one raised episode that began this instant.
func raiseNow(t *testing.T, o *Outbox, id string, channels ...string) {
	t.Helper()
	commit(t, o, Transition{
		Episode: Episode{ID: id, Key: Key{"unfit", "back-room", id}, State: Raised, Severity: Warning, Since: time.Now(), RaisedAt: time.Now(), Told: 1},
		Cause:   First, Title: id, Body: "body", At: time.Now(),
	}, channels...)
}

func TestCourierRetriesUntilSent(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone"}
		phone.answer = func(context.Context, Message) error {
			if len(phone.times) < 9 {
				return errors.New("refused")
			}
			return nil
		}
		var log bytes.Buffer
		stop := run(t, o, &log, phone)
		begun := time.Now()
		raiseNow(t, o, "a", "phone")
		time.Sleep(6 * time.Hour)
		stop()
		var after []time.Duration
		for i, at := range phone.times {
			if i > 0 {
				after = append(after, at.Sub(phone.times[i-1]).Round(time.Second))
			}
		}
		m := time.Minute
		want := []time.Duration{m / 2, m, 2 * m, 4 * m, 8 * m, 16 * m, 30 * m, 30 * m}
		if diff := cmp.Diff(want, after); diff != "" {
			t.Error(diff)
		}
		if got := messages(t, o)[0]; got.Status != Sent || got.Attempts != 9 {
			t.Errorf("%+v", got)
		}
		if first, last := phone.got[0].Body, phone.got[8].Body; first != "body" || last != fmt.Sprintf("Late: this was %s.\nbody", begun.Format("Mon 15:04")) {
			t.Errorf("first %q, last %q", first, last)
		}
		if strings.Count(log.String(), "refused") != 8 {
			t.Errorf("want one line for each failure:\n%s", log.String())
		}
	})
}

func TestCourierGivesUpAndSaysWhy(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone", answer: func(context.Context, Message) error { return errors.New("answered 410 Gone") }}
		stop := run(t, o, new(bytes.Buffer), phone)
		begun := time.Now()
		raiseNow(t, o, "a", "phone")
		time.Sleep(30 * time.Hour)
		stop()
		got := messages(t, o)[0]
		want := fmt.Sprintf("given up after %d tries: answered 410 Gone", got.Attempts)
		if got.Status != Dropped || got.Note != want || int(got.Attempts) != len(phone.got) {
			t.Errorf("%+v, want note %q", got, want)
		}
		if d := got.Changed.Sub(begun); d < 23*time.Hour || d > 24*time.Hour+time.Minute {
			t.Errorf("given up after %v, want about a day", d)
		}
	})
}

func TestCourierDropsWhatHasNoChannel(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		stop := run(t, o, new(bytes.Buffer), &stub{name: "phone"})
		raiseNow(t, o, "a", "pager")
		time.Sleep(time.Second)
		stop()
		if got := messages(t, o)[0]; got.Status != Dropped || got.Attempts != 0 || !strings.Contains(got.Note, "no longer configured") {
			t.Errorf("%+v", got)
		}
	})
}

func TestADeadChannelHoldsUpNoOther(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		dead := &stub{name: "dead", answer: func(ctx context.Context, _ Message) error { <-ctx.Done(); return ErrOutcomeUnknown }}
		live := &stub{name: "live"}
		stop := run(t, o, new(bytes.Buffer), dead, live)
		for i := range 5 {
			raiseNow(t, o, fmt.Sprint(i), "dead", "live")
		}
		time.Sleep(time.Second)
		if got := live.titles(); len(got) != 5 {
			t.Errorf("after a second only %v", got)
		}
		if got := dead.titles(); len(got) != 1 {
			t.Errorf("two tries of one channel at once: %v", got)
		}
		time.Sleep(sendDeadline)
		if m := messages(t, o); m[9].Status != Failed && m[8].Status != Failed {
			t.Errorf("the deadline did not end the try: %+v", m[8:])
		}
		stop()
	})
}

func TestATryCutShortByTheStopIsMadeAgain(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone", answer: func(ctx context.Context, _ Message) error { <-ctx.Done(); return ctx.Err() }}
		stop := run(t, o, new(bytes.Buffer), phone)
		raiseNow(t, o, "a", "phone")
		time.Sleep(time.Second)
		stop()
		if got := messages(t, o)[0]; got.Status != Sending {
			t.Fatalf("%+v", got)
		}
		phone.answer = nil
		stop = run(t, o, new(bytes.Buffer), phone)
		time.Sleep(time.Second)
		stop()
		if got := messages(t, o)[0]; got.Status != Sent || got.Attempts != 2 {
			t.Errorf("%+v", got)
		}
	})
}

func TestATakenMessageIsNotedEvenWhileStopping(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone", answer: func(ctx context.Context, _ Message) error { <-ctx.Done(); return nil }}
		stop := run(t, o, new(bytes.Buffer), phone)
		raiseNow(t, o, "a", "phone")
		time.Sleep(time.Second)
		stop()
		if got := messages(t, o)[0]; got.Status != Sent {
			t.Errorf("%+v", got)
		}
	})
}

func TestACourierStoppedBeforeItBeganIsNoFailure(t *testing.T) {
	c, err := NewCourier(CourierConfig{Outbox: newOutbox(t), Now: time.Now})
	must(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := c.Run(ctx); err != nil {
		t.Error(err)
	}
}

func TestChannelsNeedNamesOfTheirOwn(t *testing.T) {
	if _, err := NewCourier(CourierConfig{Channels: []Channel{&stub{name: "phone"}, &stub{name: "phone"}}}); err == nil {
		t.Error("two channels of one name")
	}
}

func TestPauses(t *testing.T) {
	for attempts := range uint32(100) {
		low, mid, high := pauseAfter(attempts, 0), pauseAfter(attempts, 0.5), pauseAfter(attempts, 0.999)
		if low < shortestPause || low > mid || mid > high || high > longestPause {
			t.Errorf("after %d: %v %v %v", attempts, low, mid, high)
		}
	}
	if low, high := pauseAfter(3, 0), pauseAfter(3, 0.999); low != 96*time.Second || high < 143*time.Second || high > 144*time.Second {
		t.Errorf("two minutes vary from %v to %v, want a fifth either way", low, high)
	}
}
