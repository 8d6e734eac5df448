package alert

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// story commits an episode's first telling and, unless it is zero, its end.
func story(t *testing.T, o *Outbox, began, ended time.Time) {
	t.Helper()
	e := Episode{ID: "e1", Key: Key{"unfit", "back-room", ""}, State: Raised, Severity: Critical, Since: began, RaisedAt: began, Told: 1}
	commit(t, o, Transition{Episode: e, Cause: First, Title: "Too damp", Body: "dry the air", At: began}, "phone")
	if !ended.IsZero() {
		e.State, e.EndedAt, e.Told = Cleared, ended, 2
		commit(t, o, Transition{Episode: e, From: Raised, Cause: Ended, Title: "Fit again", Body: "55 %", At: ended}, "phone")
	}
}

func TestABeginningAndItsEndBothLateAreOneMessage(t *testing.T) {
	o := newOutbox(t)
	story(t, o, dusk, dusk.Add(time.Hour))
	first := messages(t, o)[1]
	must(t, o.Begin(t.Context(), first.ID, dusk))
	must(t, o.Retry(t.Context(), first.ID, dusk, time.Minute, "refused"))
	late := dusk.Add(2 * time.Hour)
	all, err := o.Due(t.Context(), late)
	must(t, err)
	got, err := o.Collapse(t.Context(), all[0], late)
	must(t, err)
	if got.Title != "Fit again" || got.Body != "It began Tue 21:40: Too damp\n55 %" || got.Cause != Ended || got.Attempts != 1 || got.Waited != time.Minute {
		t.Errorf("%+v", got)
	}
	kept := messages(t, o)
	if kept[1].Status != Folded || kept[0].Status != Waiting || kept[0].Body != got.Body || kept[0].Attempts != 1 {
		t.Errorf("%+v", kept)
	}
	again, err := o.Collapse(t.Context(), got, late)
	must(t, err)
	if diff := cmp.Diff(got, again); diff != "" {
		t.Error(diff)
	}
}

func TestWhatWasSentIsNotToldAgainWithItsEnd(t *testing.T) {
	o := newOutbox(t)
	story(t, o, dusk, time.Time{})
	id := messages(t, o)[0].ID
	must(t, o.Begin(t.Context(), id, dusk))
	must(t, o.Done(t.Context(), id, dusk))
	story(t, o, dusk, dusk.Add(time.Hour))
	all, err := o.Due(t.Context(), dusk.Add(time.Hour))
	must(t, err)
	got, err := o.Collapse(t.Context(), all[0], dusk.Add(time.Hour))
	must(t, err)
	if len(all) != 1 || got.Body != "55 %" || got.Cause != Ended {
		t.Errorf("%+v", got)
	}
}

func TestALateMessageSaysWhenItEndedUntold(t *testing.T) {
	o := newOutbox(t)
	story(t, o, dusk, time.Time{})
	e := Episode{ID: "e1", State: Cleared, RaisedAt: dusk, EndedAt: dusk.Add(time.Hour), Told: 1}
	commit(t, o, Transition{Episode: e, From: Raised, At: e.EndedAt}, "phone")
	got, err := o.Collapse(t.Context(), messages(t, o)[0], dusk.Add(2*time.Hour))
	must(t, err)
	if got.Title != "Too damp" || got.Body != "This is over by now.\ndry the air" {
		t.Errorf("%+v", got)
	}
}

// The channel is down for two hours. What still holds then arrives with its
// own time, and what has ended meanwhile arrives as one message.
func TestAChannelBackAfterTwoHoursTellsItAll(t *testing.T) {
	for _, over := range []bool{false, true} {
		t.Run(fmt.Sprint("over: ", over), func(t *testing.T) {
			inBubble(t, func(t *testing.T, o *Outbox) {
				begun := time.Now()
				phone := &stub{name: "phone"}
				phone.answer = func(_ context.Context, _ Message) error {
					if time.Since(begun) < 2*time.Hour {
						return errors.New("no route to host")
					}
					return nil
				}
				stop := run(t, o, new(bytes.Buffer), phone)
				story(t, o, begun, time.Time{})
				time.Sleep(time.Hour)
				if over {
					story(t, o, begun, begun.Add(time.Hour))
				}
				time.Sleep(3 * time.Hour)
				stop()
				arrived := 0
				for i, at := range phone.times {
					if at.Sub(begun) >= 2*time.Hour {
						arrived++
						last := phone.got[i]
						want := fmt.Sprintf("Late: this was %s.\ndry the air", begun.Format("Mon 15:04"))
						if over {
							want = fmt.Sprintf("Late: this was %s.\nIt began %s: Too damp\n55 %%", begun.Add(time.Hour).Format("Mon 15:04"), begun.Format("Mon 15:04"))
						}
						if last.Body != want || !last.At.Equal(begun) != over {
							t.Errorf("got %q, want %q", last.Body, want)
						}
					}
				}
				if arrived != 1 {
					t.Errorf("%d messages arrived", arrived)
				}
			})
		})
	}
}

func TestABusyChannelIsLeftAloneAsLongAsItAsks(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone"}
		phone.answer = func(context.Context, Message) error {
			switch len(phone.times) {
			case 1:
				return &BusyError{After: 47 * time.Minute, Why: "answered 429"}
			case 2:
				return fmt.Errorf("push: %w", &BusyError{After: 1000 * time.Hour, Why: "answered 503"})
			case 3:
				return &BusyError{After: time.Second, Why: "answered 503"}
			}
			return nil
		}
		stop := run(t, o, new(bytes.Buffer), phone)
		raiseNow(t, o, "a", "phone")
		time.Sleep(20 * time.Hour)
		stop()
		var gaps []time.Duration
		for i, at := range phone.times[1:] {
			gaps = append(gaps, at.Sub(phone.times[i]).Round(time.Second))
		}
		if diff := cmp.Diff([]time.Duration{47 * time.Minute, longestBusy, 2 * time.Minute}, gaps); diff != "" {
			t.Error(diff)
		}
	})
}

func TestNobodyThereEndsTheTries(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		phone := &stub{name: "phone", answer: func(context.Context, Message) error { return fmt.Errorf("answered 410: %w", ErrGone) }}
		stop := run(t, o, new(bytes.Buffer), phone)
		raiseNow(t, o, "a", "phone")
		time.Sleep(time.Hour)
		stop()
		if m := messages(t, o)[0]; m.Status != Dropped || m.Attempts != 1 || !strings.Contains(m.Note, "nobody receives this") {
			t.Errorf("%+v", m)
		}
	})
}

// The forms are those of RFC 9110, sections 5.6.7 and 10.2.3, with its example
// of a date.
func TestRetryAfter(t *testing.T) {
	now := time.Date(1994, 11, 6, 8, 49, 0, 0, time.UTC)
	for _, c := range []struct {
		value, date string
		want        time.Duration
	}{
		{"120", "", 2 * time.Minute},
		{" 120 ", "", 2 * time.Minute},
		{"Sun, 06 Nov 1994 08:49:37 GMT", "", 37 * time.Second},
		{"Sunday, 06-Nov-94 08:49:37 GMT", "", 37 * time.Second},
		{"Sun, 06 Nov 1994 08:49:37 GMT", "Sun, 06 Nov 1994 07:49:37 GMT", time.Hour},
		{"Sun, 06 Nov 1994 08:00:00 GMT", "", 0},
		{"", "", 0}, {"-5", "", 0}, {"soon", "", 0}, {"1e9", "", 0}, {"99999999999999999999", "", 0},
	} {
		h := http.Header{"Retry-After": {c.value}}
		if c.date != "" {
			h.Set("Date", c.date)
		}
		if got := retryAfter(h, now); got != c.want {
			t.Errorf("%q: %v, want %v", c.value, got, c.want)
		}
	}
	s := newSink(t, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Retry-After", "3600")
		w.WriteHeader(http.StatusServiceUnavailable)
	})
	busy, ok := errors.AsType[*BusyError](send(t, channelOf(t, s.URL), 10*time.Second))
	if !ok || busy.After != time.Hour || busy.Error() != "answered 503 Service Unavailable, and asks to wait 1 h" {
		t.Errorf("%+v", busy)
	}
}

func TestSnoozeAlwaysEnds(t *testing.T) {
	f := finding(True)
	f.Hold, f.Repeat = 0, 10*time.Minute
	until := dusk.Add(time.Hour)
	snoozed := func(t *testing.T) *Engine {
		e := newEngine()
		steps(e, 0, "T", f)
		got, err := e.Snooze("e1", until, at(0))
		must(t, err)
		if got.Episode.State != Acknowledged || !got.Episode.SnoozedUntil.Equal(until) || got.Cause != Untold || got.From != Raised {
			t.Fatalf("%+v", got)
		}
		return e
	}
	hours := strings.Repeat("T", 65)
	t.Run("still so", func(t *testing.T) {
		e := snoozed(t)
		if diff := cmp.Diff([]string{"60 acknowledged→raised repeat"}, steps(e, 1, hours, f)); diff != "" {
			t.Error(diff)
		}
		if e.Episodes()[0].SnoozedUntil != (time.Time{}) {
			t.Error("the snooze goes on")
		}
	})
	t.Run("over meanwhile", func(t *testing.T) {
		e := snoozed(t)
		want := []string{"15 acknowledged→cleared cleared", "16 pending→raised first"}
		if diff := cmp.Diff(want, steps(e, 5, "FFFFFFFFFFFT", f)); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("worse meanwhile", func(t *testing.T) {
		worse := f
		worse.Severity = Critical
		if diff := cmp.Diff([]string{"9 acknowledged→raised repeat"}, steps(snoozed(t), 9, "T", worse)); diff != "" {
			t.Error(diff)
		}
	})
	t.Run("acknowledged after all", func(t *testing.T) {
		e := snoozed(t)
		if tr, ok := e.Acknowledge("e1", at(time.Minute)); !ok || !tr.Episode.SnoozedUntil.IsZero() {
			t.Errorf("%+v %v", tr, ok)
		}
		if got := steps(e, 2, hours+hours, f); got != nil {
			t.Error(got)
		}
	})
	t.Run("the clock steps", func(t *testing.T) {
		for _, step := range []time.Duration{day, -day} {
			e := snoozed(t)
			for m := 1; m <= 60; m++ {
				now := at(time.Duration(m) * time.Minute)
				now.Wall = now.Wall.Add(step)
				if got := e.Step(now, []Finding{f}); len(got) != m/60 {
					t.Errorf("step %v, minute %d: %+v", step, m, got)
				}
			}
		}
	})
	t.Run("after a restart", func(t *testing.T) {
		for _, c := range []struct {
			wall time.Duration // of the new run's beginning
			want string
		}{
			{20 * time.Minute, "40 acknowledged→raised repeat"},
			{90 * time.Minute, "0 acknowledged→raised repeat"},
			{-1000 * day, "1440 acknowledged→raised repeat"},
		} {
			e := newEngine(snoozed(t).Episodes()...)
			var got []string
			for m := 0; got == nil && m < 2000; m++ {
				mono := time.Duration(m) * time.Minute
				for _, tr := range e.Step(Instant{Wall: dusk.Add(c.wall + mono), Mono: mono}, []Finding{f}) {
					got = append(got, fmt.Sprintf("%d %v→%v %v", m, tr.From, tr.Episode.State, tr.Cause))
				}
			}
			if diff := cmp.Diff([]string{c.want}, got); diff != "" {
				t.Error(diff)
			}
		}
	})
	t.Run("refused", func(t *testing.T) {
		e := snoozed(t)
		for _, c := range []struct {
			id    string
			until time.Time
			want  string
		}{
			{"e2", until, "no alert"}, {"e1", dusk, "over already"}, {"e1", dusk.Add(day + time.Minute), "at most 24 h"},
		} {
			if _, err := e.Snooze(c.id, c.until, at(0)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		}
	})
}
