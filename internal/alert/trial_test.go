package alert

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

func TestATrialSaysWhatReallyCameOfIt(t *testing.T) {
	o := newOutbox(t)
	good := newSink(t, nil)
	bad := newSink(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) })
	channels, err := ParseChannels([]string{good.URL + "/secret-path", bad.URL + "/secret-path"})
	must(t, err)
	c, err := NewCourier(CourierConfig{Outbox: o, Channels: channels, Log: slog.New(slog.DiscardHandler), Now: time.Now, Jitter: func() float64 { return 0 }})
	must(t, err)
	first, err := c.Try(t.Context(), channels[0].Name())
	if err != nil || first.Failed != "" {
		t.Errorf("%+v, %v", first, err)
	}
	second, err := c.Try(t.Context(), channels[1].Name())
	if err != nil || second.Failed != "answered 403 Forbidden" {
		t.Errorf("%+v, %v", second, err)
	}
	if _, err := c.Try(t.Context(), "nobody"); !errors.Is(err, ErrNoChannel) {
		t.Errorf("%v", err)
	}
	got := good.deliveries()
	if len(got) != 1 || got[0].body["cause"] != "test" || got[0].body["title"] != titleTrial {
		t.Errorf("%+v", got)
	}
	states, err := o.ChannelStates(t.Context(), []string{channels[0].Name(), channels[1].Name(), "never"})
	must(t, err)
	if states[0].Trial == nil || states[0].Trial.Failed != "" || states[1].Trial.Failed != second.Failed || states[2].Trial != nil {
		t.Errorf("%+v", states)
	}
}

func TestAChannelsStateIsWhatBecameOfItsMessages(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		var down atomic.Bool
		phone := &stub{name: "phone", answer: func(context.Context, Message) error {
			if down.Load() {
				return errors.New("answered 500")
			}
			return nil
		}}
		stop := run(t, o, new(bytes.Buffer), phone)
		raiseNow(t, o, "a", "phone")
		time.Sleep(time.Second)
		sent := time.Now()
		down.Store(true)
		raiseNow(t, o, "b", "phone")
		time.Sleep(time.Minute)
		stop()
		states, err := o.ChannelStates(t.Context(), []string{"phone"})
		must(t, err)
		s := states[0]
		if s.Title != "a" || s.Sent.After(sent) || s.Sent.IsZero() || s.Waiting != 1 || s.Why != "answered 500" || s.Trial != nil {
			t.Errorf("%+v", s)
		}
	})
}

// Half a day late, news wakes nobody, but what warns is told.
func TestOldNewsIsDroppedAndOldWarningsAreNot(t *testing.T) {
	inBubble(t, func(t *testing.T, o *Outbox) {
		now := time.Now()
		for id, severity := range map[string]Severity{"news": Info, "warning": Warning} {
			commit(t, o, Transition{
				Episode: Episode{ID: id, Key: Key{"unfit", "back-room", id}, State: Raised, Severity: severity, Since: now, RaisedAt: now, Told: 1},
				Cause:   First, Title: id, At: now.Add(-13 * time.Hour),
			}, "phone")
		}
		phone := &stub{name: "phone"}
		stop := run(t, o, new(bytes.Buffer), phone)
		time.Sleep(time.Minute)
		stop()
		if got := strings.Join(phone.titles(), " "); got != "warning" {
			t.Errorf("told: %s", got)
		}
		for _, m := range messages(t, o) {
			if m.Title == "news" && (m.Status != Dropped || m.Note != staleNote) {
				t.Errorf("%+v", m)
			}
		}
	})
}

func TestAHeartbeatGoesOutWhileTheHubIsWell(t *testing.T) {
	beats := 0
	watch := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { beats++ }))
	defer watch.Close()
	var ill error
	h, err := NewHeartbeat(HeartbeatConfig{
		URL: watch.URL + "/very-secret", Every: time.Minute, Now: time.Now, Log: slog.New(slog.DiscardHandler),
		Alive: func(context.Context) error { return ill },
	})
	must(t, err)
	if got := h.Beat(t.Context()); got.Failed != "" || beats != 1 || h.Last() != got {
		t.Errorf("%+v after %d beats", got, beats)
	}
	ill = errors.New("it does not answer")
	if got := h.Beat(t.Context()); got.Failed != "the hub is not well: it does not answer" || beats != 1 {
		t.Errorf("%+v after %d beats", got, beats)
	}
	ill = nil
	watch.Close()
	if got := h.Beat(t.Context()); got.Failed == "" || strings.Contains(got.Failed, "very-secret") {
		t.Errorf("%+v", got)
	}
	for _, c := range []HeartbeatConfig{{URL: "", Every: time.Hour}, {URL: "ftp://host/x", Every: time.Hour}, {URL: watch.URL, Every: time.Second}} {
		if _, err := NewHeartbeat(c); err == nil {
			t.Errorf("%+v was taken", c)
		}
	}
}
