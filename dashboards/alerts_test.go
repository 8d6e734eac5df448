package dashboards

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/alert"
)

// fakeAlerts is a board of plain data that notes what it is asked.
type fakeAlerts struct {
	board AlertBoard
	asked []string
}

func (f *fakeAlerts) Board(context.Context) (AlertBoard, error) { return f.board, nil }
func (f *fakeAlerts) Snooze(episode string, d time.Duration) error {
	f.asked = append(f.asked, "snooze "+episode+" "+d.String())
	return nil
}
func (f *fakeAlerts) Try(_ context.Context, channel string) (alert.Trial, error) {
	f.asked = append(f.asked, "try "+channel)
	switch channel {
	case "phone":
		return alert.Trial{}, nil
	case "mail":
		return alert.Trial{Failed: "answered 500"}, nil
	}
	return alert.Trial{}, alert.ErrNoChannel
}
func (f *fakeAlerts) Ask(_ context.Context, w alert.Wish) error {
	f.asked = append(f.asked, strings.Join([]string{"ask", w.Room, w.Coat, w.Stage, w.Ahead.String()}, " "))
	return nil
}
func (f *fakeAlerts) TakeBack(_ context.Context, id string) error {
	f.asked = append(f.asked, "drop "+id)
	return nil
}
func (f *fakeAlerts) Told(_ context.Context, room string, from, to time.Time) ([]alert.Message, error) {
	f.asked = append(f.asked, "play "+room+" "+from.Format("2 15:04")+" "+to.Format("2 15:04"))
	return []alert.Message{{Episode: "e1", Cause: alert.First, Title: "Too damp: Linen press, doors", Body: "Dry the air.", At: from, Changed: from}}, nil
}

// fullBoard has one of everything.
func fullBoard() AlertBoard {
	standing := alert.Episode{ID: "e1", Key: alert.Key{Rule: "unfit", Room: "back-room"}, State: alert.Raised, Severity: alert.Critical,
		Title: "Near the dew point: Linen press, doors. Warm it.", Body: "Likely until Tue 02:10.\nThe dew margin is 1.2 K.", Since: evening, RaisedAt: evening}
	seen := alert.Episode{ID: "e2", Key: alert.Key{Rule: "disk"}, State: alert.Acknowledged, Severity: alert.Warning,
		Title: "Disk nearly full, 4 % free. Make room.", Since: evening, RaisedAt: evening, SnoozedUntil: evening.Add(time.Hour)}
	over := alert.Episode{ID: "e3", State: alert.Cleared, Title: "an alert that is over", Since: evening}
	m := alert.Message{Episode: "e1", Cause: alert.First, Channel: "phone", Severity: alert.Critical, Title: standing.Title, At: evening, Status: alert.Sent, Changed: evening.Add(time.Second)}
	failed := m
	failed.Channel, failed.Status, failed.Note, failed.NextTry = "mail", alert.Failed, "answered 500", evening.Add(time.Minute)
	held := alert.Message{Episode: "e4", Cause: alert.First, Channel: "phone", Title: "Touch test, then handle: Linen press, top", At: evening, Status: alert.Held}
	return AlertBoard{
		Episodes: []alert.Episode{standing, seen, over}, Messages: []alert.Message{m, failed, held}, Held: []alert.Message{held},
		QuietEnds: evening.Add(8 * time.Hour),
		Channels: []alert.ChannelState{
			{Channel: "phone", Sent: evening, Title: standing.Title, Trial: &alert.Trial{At: evening, Took: 300 * time.Millisecond}},
			{Channel: "mail", Waiting: 1, Why: "answered 500", Trial: &alert.Trial{At: evening, Failed: "answered 500"}},
		},
		Wishes: []alert.Wish{{ID: "w1", Room: "back-room"}},
		Beat:   true, Heartbeat: &alert.Trial{At: evening},
	}
}

func alertHandler(f *fakeAlerts) http.Handler {
	return New(Options{House: newHouse(twoCoats(evening)), Alerts: f, Previewer: f, Now: func() time.Time { return evening }, Location: time.UTC})
}

func TestThePageAlertsSaysItAll(t *testing.T) {
	w := get(alertHandler(&fakeAlerts{board: fullBoard()}), "/alerts")
	body := w.Body.String()
	if w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, body)
	}
	for _, want := range []string{
		"One alert stands", "Near the dew point: Linen press, doors", `action="/alerts/e1/seen"`, `action="/alerts/e1/snooze"`,
		"Seen, and not over", "Disk nearly full", "recoat itself", "told again",
		"Touch test, then handle: Linen press, top", "critical, new. phone: taken", "mail: not taken (answered 500)",
		"taken after 0.3 s", "one waits: answered 500", "When it is fit to coat again", "Heartbeat: the last went out", `href="/alerts/preview"`,
	} {
		if !strings.Contains(body, want) {
			t.Errorf("it does not say %q", want)
		}
	}
	if strings.Contains(body, "an alert that is over") || strings.Contains(body, `action="/alerts/e2/seen"`) {
		t.Error("what is over, or was seen, asks to be seen")
	}
}

func TestWhatThePageAlertsIsToldIsDone(t *testing.T) {
	f := &fakeAlerts{}
	h := alertHandler(f)
	send := func(path string, form url.Values) int {
		r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1"+path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	coat := twoCoats(evening).Coats[0]
	for _, c := range []struct {
		path string
		form url.Values
		code int
	}{
		{"/alerts/e1/snooze", url.Values{"for": {"8h"}}, http.StatusSeeOther},
		{"/alerts/e1/snooze", url.Values{"for": {"1000h"}}, http.StatusBadRequest},
		{"/alerts/channels", url.Values{"channel": {"phone"}}, http.StatusSeeOther},
		{"/alerts/channels", url.Values{"channel": {"nobody"}}, http.StatusNotFound},
		{"/alerts/wishes", url.Values{"room": {"back-room"}}, http.StatusSeeOther},
		{"/alerts/wishes", url.Values{"coat": {coat.ID}, "ahead": {"1h"}}, http.StatusSeeOther},
		{"/alerts/wishes", url.Values{"coat": {"c-9999"}, "ahead": {"1h"}}, http.StatusBadRequest},
		{"/alerts/wishes/w1/drop", nil, http.StatusSeeOther},
	} {
		if got := send(c.path, c.form); got != c.code {
			t.Errorf("%s %v: %d, want %d", c.path, c.form, got, c.code)
		}
	}
	want := []string{"snooze e1 8h0m0s", "try phone", "try nobody", "ask back-room   0s",
		"ask back-room " + coat.ID + " " + coat.Estimates[coat.Next].Stage.String() + " 1h0m0s", "drop w1"}
	if diff := cmp.Diff(want, f.asked); diff != "" {
		t.Error(diff)
	}
}

func TestAPastNightIsShown(t *testing.T) {
	f := &fakeAlerts{}
	h := alertHandler(f)
	night := evening.AddDate(0, 0, -1).Format(time.DateOnly)
	if w := get(h, "/alerts/preview?room=back-room&night="+night); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Too damp: Linen press, doors") {
		t.Errorf("%d", w.Code)
	}
	for _, query := range []string{"?room=nowhere&night=" + night, "?room=back-room&night=x", "?room=back-room&night=2999-01-01"} {
		if w := get(h, "/alerts/preview"+query); w.Code != http.StatusBadRequest {
			t.Errorf("%s: %d", query, w.Code)
		}
	}
	if len(f.asked) != 1 {
		t.Errorf("played %v", f.asked)
	}
}

func TestTonightTellsTheHubsOwnAlerts(t *testing.T) {
	h := alertHandler(&fakeAlerts{board: fullBoard()})
	w := get(h, "/")
	wantProse(t, w, "Disk nearly full, 4 % free. Make room.", "See the alerts")
	for _, not := range []string{"Near the dew point: Linen press, doors. Warm it.", "an alert that is over"} {
		if strings.Contains(w.Body.String(), not) {
			t.Errorf("%q is a room's or over, and yet told as the hub's own", not)
		}
	}
}
