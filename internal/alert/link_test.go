package alert

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func newSigner(t *testing.T, seed byte) *Signer {
	t.Helper()
	s, err := NewSigner(bytes.Repeat([]byte{seed}, LinkKeySize))
	must(t, err)
	return s
}

var link = Link{Action: "snooze", Subject: "1h", Episode: "e1", Expires: dusk.Add(12 * time.Hour), Nonce: "n-1"}

func TestALinkReadsBack(t *testing.T) {
	s := newSigner(t, 1)
	token, err := s.Sign(link, dusk)
	must(t, err)
	got, err := s.Verify(token, dusk.Add(12*time.Hour-time.Second))
	must(t, err)
	if diff := cmp.Diff(link, got); diff != "" {
		t.Error(diff)
	}
	if strings.Trim(token, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.") != "" {
		t.Errorf("not fit for an address: %s", token)
	}
	for _, late := range []time.Duration{12 * time.Hour, 48 * time.Hour} {
		if _, err := s.Verify(token, dusk.Add(late)); !errors.Is(err, ErrLinkExpired) {
			t.Errorf("after %v: %v", late, err)
		}
	}
}

func TestNoCharacterOfALinkCanBeAltered(t *testing.T) {
	s := newSigner(t, 1)
	token, err := s.Sign(link, dusk)
	must(t, err)
	refuse := func(what, token string) {
		t.Helper()
		if l, err := s.Verify(token, dusk); !errors.Is(err, ErrLinkAltered) {
			t.Errorf("%s: %+v %v", what, l, err)
		}
	}
	for i := range token {
		for _, c := range "AZaz09-_.=" {
			if byte(c) != token[i] {
				refuse(fmt.Sprintf("character %d is %c", i, c), token[:i]+string(c)+token[i+1:])
			}
		}
		refuse(fmt.Sprintf("cut at %d", i), token[:i])
	}
	refuse("longer", token+"A")
	refuse("much longer", token+strings.Repeat("A", 1<<20))
	other, err := newSigner(t, 2).Sign(link, dusk)
	must(t, err)
	refuse("another key", other)
	text, _, _ := strings.Cut(token, ".")
	_, signature, _ := strings.Cut(other, ".")
	refuse("another signature", text+"."+signature)
}

func TestALinkIsUsedOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "outbox.db")
	o := openOutbox(t, path)
	must(t, o.Spend(t.Context(), link, dusk))
	other := link
	other.Nonce = "n-2"
	must(t, o.Spend(t.Context(), other, dusk))
	must(t, o.Close())
	o = openOutbox(t, path)
	for _, after := range []time.Duration{0, time.Hour, 12 * time.Hour, 47 * time.Hour} {
		if err := o.Spend(t.Context(), link, dusk.Add(after)); !errors.Is(err, ErrLinkSpent) {
			t.Errorf("after %v: %v", after, err)
		}
	}
	third := link
	third.Nonce = "n-3"
	must(t, o.Spend(t.Context(), third, dusk.Add(30*day)))
	var kept int
	must(t, o.db.Read.QueryRowContext(t.Context(), `SELECT count(*) FROM spent`).Scan(&kept))
	if kept != 1 {
		t.Errorf("%d are remembered long after they expired", kept)
	}
}

func TestOfManyAtOnceOneUsesALink(t *testing.T) {
	o := newOutbox(t)
	var wg sync.WaitGroup
	var used atomic.Int32
	for range 16 {
		wg.Go(func() {
			switch err := o.Spend(t.Context(), link, dusk); {
			case err == nil:
				used.Add(1)
			case !errors.Is(err, ErrLinkSpent):
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if n := used.Load(); n != 1 {
		t.Errorf("used %d times", n)
	}
}

func TestLinksThatAreNotSigned(t *testing.T) {
	s := newSigner(t, 1)
	for name, spoil := range map[string]func(*Link){
		"no action":  func(l *Link) { l.Action = "" },
		"no episode": func(l *Link) { l.Episode = "" },
		"no nonce":   func(l *Link) { l.Nonce = "" },
		"expired":    func(l *Link) { l.Expires = dusk },
		"too long":   func(l *Link) { l.Expires = dusk.Add(longestLink + time.Second) },
		"too much":   func(l *Link) { l.Subject = strings.Repeat("x", longestToken) },
	} {
		l := link
		spoil(&l)
		if token, err := s.Sign(l, dusk); err == nil {
			t.Errorf("%s: %s", name, token)
		}
	}
	if _, err := NewSigner(make([]byte, 31)); err == nil {
		t.Error("a short key was taken")
	}
}

func FuzzVerify(f *testing.F) {
	s, err := NewSigner(make([]byte, LinkKeySize))
	if err != nil {
		f.Fatal(err)
	}
	token, err := s.Sign(link, dusk)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(token)
	f.Add(".")
	f.Fuzz(func(t *testing.T, given string) {
		if l, err := s.Verify(given, dusk); err == nil && given != token {
			t.Errorf("%q is taken for %+v", given, l)
		}
	})
}

func TestSubscriptionsAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "outbox.db")
	o := openOutbox(t, path)
	sub := func(i int) PushSubscription {
		return PushSubscription{Endpoint: fmt.Sprintf("https://push.example.net/%02d", i), Key: []byte{4, byte(i)}, Auth: []byte{byte(i)}}
	}
	for i := range mostSubscriptions {
		must(t, o.Subscribe(t.Context(), sub(i), dusk.Add(time.Duration(i)*time.Second)))
	}
	if err := o.Subscribe(t.Context(), sub(99), dusk); !errors.Is(err, ErrTooManySubscriptions) {
		t.Errorf("one too many: %v", err)
	}
	changed := sub(0)
	changed.Auth = []byte("new")
	must(t, o.Subscribe(t.Context(), changed, dusk))
	for i := 2; i < mostSubscriptions; i++ {
		must(t, o.Unsubscribe(t.Context(), sub(i).Endpoint))
	}
	must(t, o.Unsubscribe(t.Context(), "https://push.example.net/none"))
	must(t, o.Close())
	got, err := openOutbox(t, path).Subscriptions(t.Context())
	must(t, err)
	if diff := cmp.Diff([]PushSubscription{changed, sub(1)}, got); diff != "" {
		t.Error(diff)
	}
}
