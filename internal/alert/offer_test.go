package alert

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func newLinker(t *testing.T) *Linker {
	t.Helper()
	s, err := NewSigner([]byte(strings.Repeat("k", LinkKeySize)))
	must(t, err)
	return NewLinker(s, "http://192.0.2.7:7424/l/")
}

// replies reads what the links of a message ask for, as "action subject".
func replies(t *testing.T, l *Linker, m Message) (asked, nonces []string) {
	t.Helper()
	all, err := l.Replies(m, dusk)
	must(t, err)
	for _, r := range all {
		token, found := strings.CutPrefix(r.URL, "http://192.0.2.7:7424/l/")
		link, err := l.signer.Verify(token, dusk)
		if err != nil || !found || r.Label == "" || link.Episode != m.Episode {
			t.Errorf("%+v: %+v, %v", r, link, err)
		}
		asked, nonces = append(asked, strings.TrimSpace(link.Action+" "+link.Subject)), append(nonces, link.Nonce)
	}
	return asked, nonces
}

func TestAMessageOffersWhatCanBeDoneAboutIt(t *testing.T) {
	l := newLinker(t)
	for name, c := range map[string]struct {
		m    Message
		want []string
	}{
		"unfit":       {Message{Episode: "e1", Key: Key{"unfit", "r", ""}, Cause: First}, []string{"seen", "snooze 1h"}},
		"recoat":      {Message{Episode: "e1", Key: Key{"ready", "r", "c-0007/dry-to-recoat/2"}, Cause: First}, []string{"touch c-0007 dry", "touch c-0007 tacky", "coat c-0007", "seen"}},
		"handle":      {Message{Episode: "e1", Key: Key{"ready", "r", "c-0007/handle"}, Cause: First}, []string{"touch c-0007 dry", "touch c-0007 tacky", "seen"}},
		"over":        {Message{Episode: "e1", Key: Key{"unfit", "r", ""}, Cause: Ended}, nil},
		"many things": {Message{Episode: "e1", Key: Key{"digest", "r", ""}, Cause: Digest}, nil},
		"a test":      {TrialMessage("phone", dusk), nil},
	} {
		got, _ := replies(t, l, c.m)
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// A retry offers the same links, and no second message of an episode notes a
// coat a second time.
func TestNoncesAreOnePerThingToDo(t *testing.T) {
	l := newLinker(t)
	first := Message{ID: "m1", Channel: "phone", Episode: "e1", Key: Key{"ready", "r", "c-0007/dry-to-recoat"}, Cause: First, At: dusk}
	_, once := replies(t, l, first)
	other := first
	other.ID, other.Channel, other.Cause, other.At = "m2", "mail", Escalated, dusk.Add(time.Hour)
	_, again := replies(t, l, other)
	for i := range 3 {
		if once[i] != again[i] {
			t.Errorf("link %d can be used once for each message", i)
		}
	}
	if once[3] == again[3] {
		t.Error("a later telling cannot be acknowledged")
	}
	seen := map[string]bool{}
	for _, n := range once {
		if seen[n] {
			t.Errorf("two links share the nonce %s", n)
		}
		seen[n] = true
	}
}

func TestLinksStandUnderTheText(t *testing.T) {
	m := Message{Body: "Warm it.", Replies: []Reply{{"Seen", "http://192.0.2.7/l/x"}}}
	if got := m.Text(); got != "Warm it.\nSeen: http://192.0.2.7/l/x" {
		t.Errorf("%q", got)
	}
}

func TestAPreviewHoldsBackOverNightAndTellsInTheMorning(t *testing.T) {
	cfg := RouterConfig{Channels: []string{"phone"}, Quiet: QuietHours{22 * time.Hour, 7 * time.Hour}, Zone: time.UTC}
	at := func(h, m int) time.Time { return time.Date(2031, 3, 4, h, m, 0, 0, time.UTC) }
	tell := func(id string, s Severity, when time.Time) Transition {
		tr := raised(id, s, 0)
		tr.At = when
		return tr
	}
	all := []Transition{tell("evening", Info, at(20, 0)), tell("late", Info, at(23, 0)), tell("grave", Critical, at(23, 30))}
	got, err := Preview(cfg, all, at(31, 30))
	must(t, err)
	expect(t, got, "phone first waiting evening is bad", "phone first waiting grave is bad", "phone digest waiting late is bad")
	if !got[2].Changed.Equal(at(31, 0)) {
		t.Errorf("the digest comes at %v", got[2].Changed)
	}
	got, err = Preview(cfg, all, at(24, 0))
	must(t, err)
	expect(t, got, "phone first waiting evening is bad", "phone first waiting grave is bad", "phone first held late is bad")
}
