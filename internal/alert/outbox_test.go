package alert

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/internal/sqldb"
)

func openOutbox(t *testing.T, path string) *Outbox {
	t.Helper()
	o, err := OpenOutbox(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = o.Close() })
	return o
}

func newOutbox(t *testing.T) *Outbox { return openOutbox(t, filepath.Join(t.TempDir(), "outbox.db")) }

// raise commits one raised episode and its messages.
func raise(t *testing.T, o *Outbox, id string, severity Severity, channels ...string) {
	t.Helper()
	commit(t, o, Transition{
		Episode: Episode{ID: id, Key: Key{"unfit", "back-room", id}, State: Raised, Severity: severity,
			Title: id, Body: "body", Since: dusk, RaisedAt: dusk, Told: 1},
		From: Pending, Cause: First, Title: id, Body: "body", At: dusk,
	}, channels...)
}

func commit(t *testing.T, o *Outbox, tr Transition, channels ...string) {
	t.Helper()
	ts := []Transition{tr}
	if err := o.Commit(t.Context(), ts, Compose(ts, channels)); err != nil {
		t.Fatal(err)
	}
}

// due lists what is due as "title channel".
func due(t *testing.T, o *Outbox, now time.Time) []string {
	t.Helper()
	all, err := o.Due(t.Context(), now)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, m := range all {
		names = append(names, m.Title+" "+m.Channel)
	}
	return names
}

func messages(t *testing.T, o *Outbox) []Message {
	t.Helper()
	all, err := o.Messages(t.Context(), 1000)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestOutboxSurvivesReopen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "outbox.db")
	o := openOutbox(t, path)
	raise(t, o, "kept", Warning, "phone")
	lapsed := Episode{ID: "lapsed", Key: margin, State: Pending, Since: dusk}
	commit(t, o, Transition{Episode: lapsed, At: dusk})
	lapsed.State, lapsed.EndedAt = Cleared, dusk
	commit(t, o, Transition{Episode: lapsed, At: dusk})
	want := messages(t, o)
	if len(want) != 1 || want[0].Status != Waiting || !want[0].At.Equal(dusk) {
		t.Fatalf("%+v", want)
	}
	must(t, o.Close())
	o = openOutbox(t, path)
	if diff := cmp.Diff(want, messages(t, o)); diff != "" {
		t.Error(diff)
	}
	episodes, err := o.Episodes(t.Context(), 10)
	must(t, err)
	wantEpisodes := []Episode{{ID: "kept", Key: Key{"unfit", "back-room", "kept"}, State: Raised, Severity: Warning,
		Title: "kept", Body: "body", Since: dusk, RaisedAt: dusk, Told: 1}}
	if diff := cmp.Diff(wantEpisodes, episodes); diff != "" {
		t.Error(diff)
	}
}

func TestCommitIsAllOrNothing(t *testing.T) {
	o := newOutbox(t)
	tr := Transition{Episode: Episode{ID: "e1", Key: margin, State: Raised, RaisedAt: dusk, Told: 1}, Cause: First, Title: "t", At: dusk}
	orphan := Compose([]Transition{tr}, []string{"phone"})
	orphan[0].Episode = "no such episode"
	if err := o.Commit(t.Context(), []Transition{tr}, orphan); err == nil {
		t.Fatal("a message without its episode was taken")
	}
	if episodes, err := o.Episodes(t.Context(), 10); err != nil || len(episodes) != 0 {
		t.Errorf("half of it stayed: %+v %v", episodes, err)
	}
}

func TestCommitTwiceChangesNothing(t *testing.T) {
	o := newOutbox(t)
	raise(t, o, "a", Info, "phone", "mail")
	first := messages(t, o)
	must(t, o.Begin(t.Context(), first[0].ID, dusk))
	want := messages(t, o)
	raise(t, o, "a", Info, "phone", "mail")
	if diff := cmp.Diff(want, messages(t, o)); diff != "" {
		t.Error(diff)
	}
	if len(want) != 2 || want[0].ID == want[1].ID {
		t.Errorf("want two messages, each with its own key: %+v", want)
	}
}

func TestEpisodesKeepsWhatIsOpenAndWhatIsToldOnce(t *testing.T) {
	o := newOutbox(t)
	for i := range 10 {
		e := Episode{ID: fmt.Sprintf("old%d", i), Key: margin, State: Cleared,
			Since: dusk.Add(time.Duration(i) * time.Hour), RaisedAt: dusk, EndedAt: dusk}
		if i == 0 {
			e.Once, e.ID = true, "once"
		}
		commit(t, o, Transition{Episode: e, From: Raised, At: dusk})
	}
	raise(t, o, "open", Info)
	got, err := o.Episodes(t.Context(), 3)
	must(t, err)
	var ids []string
	for _, e := range got {
		ids = append(ids, e.ID)
	}
	if diff := cmp.Diff([]string{"old9", "old8", "old7", "once", "open"}, ids); diff != "" {
		t.Error(diff)
	}
}

func TestDueTakesTheGravestAndKeepsEachEpisodesOrder(t *testing.T) {
	o := newOutbox(t)
	raise(t, o, "mild", Info, "phone", "mail")
	raise(t, o, "grave", Critical, "phone")
	if diff := cmp.Diff([]string{"grave phone", "mild mail"}, due(t, o, dusk)); diff != "" {
		t.Error(diff)
	}
	grave := messages(t, o)[0]
	must(t, o.Begin(t.Context(), grave.ID, dusk))
	must(t, o.Retry(t.Context(), grave.ID, dusk, time.Minute, "refused"))
	commit(t, o, Transition{
		Episode: Episode{ID: "grave", Key: grave.Key, State: Cleared, Severity: Critical, RaisedAt: dusk, Told: 2},
		From:    Raised, Cause: Ended, Title: "grave is over", At: dusk,
	}, "phone")
	if diff := cmp.Diff([]string{"mild phone", "mild mail"}, due(t, o, dusk)); diff != "" {
		t.Errorf("the end must not overtake the beginning: %s", diff)
	}
	if diff := cmp.Diff([]string{"grave phone", "mild mail"}, due(t, o, dusk.Add(time.Minute))); diff != "" {
		t.Error(diff)
	}
	must(t, o.Drop(t.Context(), grave.ID, dusk, "given up"))
	if diff := cmp.Diff([]string{"grave is over phone", "mild mail"}, due(t, o, dusk)); diff != "" {
		t.Error(diff)
	}
}

func TestAClockSteppedBackDelaysNoRetry(t *testing.T) {
	o := newOutbox(t)
	raise(t, o, "a", Info, "phone")
	id := messages(t, o)[0].ID
	if got := due(t, o, dusk.Add(-24*time.Hour)); len(got) != 1 {
		t.Error("a message not tried yet waits for the clock")
	}
	must(t, o.Begin(t.Context(), id, dusk))
	must(t, o.Retry(t.Context(), id, dusk, longestPause, "refused"))
	if got := due(t, o, dusk); len(got) != 0 {
		t.Errorf("due before its pause: %v", got)
	}
	if got := due(t, o, dusk.Add(-24*time.Hour)); len(got) != 1 {
		t.Error("a retry waits a day for the clock")
	}
}

func TestEveryTryIsWrittenBeforeAndAfter(t *testing.T) {
	o := newOutbox(t)
	raise(t, o, "a", Info, "phone")
	id := messages(t, o)[0].ID
	for _, wrong := range []error{o.Done(t.Context(), id, dusk), o.Retry(t.Context(), id, dusk, time.Minute, ""), o.Begin(t.Context(), "none", dusk)} {
		if !errors.Is(wrong, ErrNoMessage) {
			t.Errorf("want ErrNoMessage, got %v", wrong)
		}
	}
	must(t, o.Begin(t.Context(), id, dusk))
	if err := o.Begin(t.Context(), id, dusk); !errors.Is(err, ErrNoMessage) {
		t.Errorf("begun twice: %v", err)
	}
	must(t, o.Retry(t.Context(), id, dusk, 40*time.Second, "refused"))
	m := messages(t, o)[0]
	if m.Status != Failed || m.Attempts != 1 || m.Waited != 40*time.Second || m.Note != "refused" || !m.NextTry.Equal(dusk.Add(40*time.Second)) {
		t.Errorf("%+v", m)
	}
	must(t, o.Begin(t.Context(), id, dusk))
	must(t, o.Recover(t.Context(), dusk))
	if got := due(t, o, dusk); len(got) != 1 {
		t.Errorf("a try cut short is not made again: %v", got)
	}
	must(t, o.Begin(t.Context(), id, dusk))
	must(t, o.Done(t.Context(), id, dusk.Add(time.Second)))
	if m := messages(t, o)[0]; m.Status != Sent || m.Attempts != 3 || m.Note != "" || !m.Changed.Equal(dusk.Add(time.Second)) {
		t.Errorf("%+v", m)
	}
	if err := o.Drop(t.Context(), id, dusk, "late"); !errors.Is(err, ErrNoMessage) {
		t.Errorf("dropped what was sent: %v", err)
	}
}

func TestAnOutboxOfTheFirstVersionIsTakenOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "outbox.db")
	first := outboxSchema()
	first.Migrations = first.Migrations[:1]
	db, err := sqldb.Open(t.Context(), path, first)
	must(t, err)
	_, err = db.Write.ExecContext(t.Context(), `INSERT INTO episode VALUES ('e1', 'unfit', 'back-room', '', 1, 2, 't', 'b', 1000, 2000, 0, 0, 1)`)
	must(t, err)
	must(t, db.Close())
	o := openOutbox(t, path)
	standing, err := o.Standing(t.Context())
	must(t, err)
	want := Episode{ID: "e1", Key: Key{"unfit", "back-room", ""}, State: Raised, Severity: Critical, Title: "t", Body: "b",
		Since: time.UnixMilli(1000).UTC(), RaisedAt: time.UnixMilli(2000).UTC(), Told: 1}
	if diff := cmp.Diff([]Episode{want}, standing.Episodes); diff != "" {
		t.Error(diff)
	}
	want.State, want.SnoozedUntil = Acknowledged, dusk
	commit(t, o, Transition{Episode: want, From: Raised, At: dusk})
	got, err := o.Episodes(t.Context(), 10)
	must(t, err)
	if diff := cmp.Diff([]Episode{want}, got); diff != "" {
		t.Error(diff)
	}
}
