package access

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const (
	good  = "ash and walnut"
	bench = "192.0.2.7"
)

// clock is set by hand.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }

// open returns a book whose passwords are cheap, and its clock.
func open(t *testing.T) (*Book, *clock) {
	t.Helper()
	c := &clock{time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)}
	b, err := Open(t.Context(), Options{Path: filepath.Join(t.TempDir(), "access.db"), Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Close() })
	b.hashing.cost = cost{memory: 64, passes: 1, threads: 1}
	return b, c
}

func add(t *testing.T, b *Book, name string, role Role) {
	t.Helper()
	if err := b.Add(t.Context(), name, role, good); err != nil {
		t.Fatal(err)
	}
}

func logIn(t *testing.T, b *Book, name string) string {
	t.Helper()
	secret, err := b.LogIn(t.Context(), bench, name, good)
	if err != nil {
		t.Fatal(err)
	}
	return secret
}

func TestALogInMakesASession(t *testing.T) {
	b, _ := open(t)
	add(t, b, " Mona ", Helper)
	secret := logIn(t, b, "MONA")
	if len(secret) != 22 { // 128 bits in base64
		t.Errorf("the secret %q is not of 128 bits", secret)
	}
	if v, ok := b.Visitor(t.Context(), secret); !ok || v != (Visitor{"mona", Helper}) {
		t.Errorf("it belongs to %+v, %v", v, ok)
	}
	for _, other := range []string{"", secret + "A", strings.ToLower(secret), "x"} {
		if v, ok := b.Visitor(t.Context(), other); ok {
			t.Errorf("%q belongs to %+v", other, v)
		}
	}
}

// The answer is the same for a name that there is and one that there is not,
// and the hash is reckoned for both.
func TestRefusalsTellNothing(t *testing.T) {
	b, _ := open(t)
	add(t, b, "mona", Owner)
	for _, name := range []string{"mona", "nobody", "", "a\x00b", strings.Repeat("x", 1000)} {
		_, err := b.LogIn(t.Context(), bench+name, name, "wrong password")
		if !errors.Is(err, ErrRefused) || err.Error() != ErrRefused.Error() {
			t.Errorf("%.10q: %v", name, err)
		}
	}
	if _, _, _, ok := parseHash(decoy); !ok {
		t.Error("the hash of nobody cannot be reckoned with")
	}
	c, _, _, _ := parseHash(decoy)
	if c != usualCost() {
		t.Errorf("the hash of nobody costs %+v, any other %+v", c, usualCost())
	}
}

func TestPasswordsThatWillNotDo(t *testing.T) {
	b, _ := open(t)
	for _, p := range []string{"", "short", "123456789", "\xff\xfe0123456789", strings.Repeat("long", 100)} {
		var input *InputError
		if err := b.Add(t.Context(), "mona", Owner, p); !errors.As(err, &input) {
			t.Errorf("%.20q: %v", p, err)
		}
	}
	add(t, b, "mona", Owner)
	var input *InputError
	if err := b.Add(t.Context(), "Mona", Wall, good); !errors.As(err, &input) {
		t.Errorf("a name twice: %v", err)
	}
}

// Five tries are free, then each waits twice as long, five minutes at most; the
// right password waits as well, another address only as long as the name does,
// and half an hour without a failure forgives.
func TestGuessingIsSlowed(t *testing.T) {
	b, c := open(t)
	add(t, b, "mona", Owner)
	guess := func(origin, name, password string) error {
		_, err := b.LogIn(t.Context(), origin, name, password)
		return err
	}
	for range freeTries {
		if err := guess(bench, "mona", "wrong password"); !errors.Is(err, ErrRefused) {
			t.Fatal(err)
		}
	}
	want := firstWait
	for range 12 {
		var wait *WaitError
		if err := guess(bench, "mona", good); !errors.As(err, &wait) || wait.Wait != want {
			t.Fatalf("%v, want to wait %s", err, want)
		}
		if err := guess(bench, "zoe", good); !errors.As(err, &wait) {
			t.Fatalf("another name from there: %v", err)
		}
		if err := guess("192.0.2.8", "mona", good); !errors.As(err, &wait) {
			t.Fatalf("the name from elsewhere: %v", err)
		}
		c.at = c.at.Add(want)
		if err := guess(bench, "mona", "wrong password"); !errors.Is(err, ErrRefused) {
			t.Fatal(err)
		}
		want = min(2*want, longestWait)
	}
	if err := guess("192.0.2.9", "eve", "wrong password"); !errors.Is(err, ErrRefused) {
		t.Errorf("somebody else: %v", err)
	}
	c.at = c.at.Add(-48 * time.Hour) // the clock is set back: no wait is longer than it was
	var wait *WaitError
	if err := guess(bench, "mona", good); !errors.As(err, &wait) || wait.Wait > longestWait {
		t.Errorf("with the clock set back: %v", err)
	}
	c.at = c.at.Add(48*time.Hour + forgiven)
	if err := guess(bench, "mona", good); err != nil {
		t.Errorf("after half an hour: %v", err)
	}
}

// The book of failures is bounded.
func TestManyStrangersAreForgotten(t *testing.T) {
	b := newBrake()
	at := time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)
	for i := range mostBraked * 2 {
		b.failure(at, string(rune(i+1)))
	}
	if len(b.failed) != mostBraked || b.order.Len() != mostBraked {
		t.Errorf("%d strangers are remembered, %d in order", len(b.failed), b.order.Len())
	}
}

func TestSessionsEnd(t *testing.T) {
	b, c := open(t)
	add(t, b, "mona", Owner)
	began := c.at
	lives := func(secret string) bool { _, ok := b.Visitor(t.Context(), secret); return ok }
	unused, used := logIn(t, b, "mona"), logIn(t, b, "mona")
	for c.at = began; c.at.Sub(began) <= longestLife; c.at = c.at.Add(20 * 24 * time.Hour) {
		if !lives(used) {
			t.Fatalf("used every twenty days it has ended after %s", c.at.Sub(began))
		}
	}
	if lives(unused) || lives(used) {
		t.Error("a session outlives its time")
	}
	c.at = began
	first, second, third := logIn(t, b, "mona"), logIn(t, b, "mona"), logIn(t, b, "mona")
	if err := b.LogOut(t.Context(), first, false); err != nil || lives(first) || !lives(second) {
		t.Errorf("log-out: %v", err)
	}
	if err := b.LogOut(t.Context(), second, true); err != nil || lives(second) || lives(third) {
		t.Errorf("log-out everywhere: %v", err)
	}
	fourth := logIn(t, b, "mona")
	if err := b.SetPassword(t.Context(), "mona", "another good one"); err != nil || lives(fourth) {
		t.Errorf("a session outlives the password: %v", err)
	}
}

func TestTheShopIsClaimedOnce(t *testing.T) {
	b, c := open(t)
	claim := func(code string) (string, error) {
		return b.Claim(t.Context(), bench, code, "Mona", good)
	}
	if _, err := claim(""); !errors.Is(err, ErrRefused) {
		t.Errorf("without a code: %v", err)
	}
	old := b.ClaimCode()
	code := b.ClaimCode()
	for _, wrong := range []string{old, code[:13], ""} {
		if _, err := claim(wrong); !errors.Is(err, ErrRefused) {
			t.Errorf("code %q: %v", wrong, err)
		}
	}
	if _, err := b.Claim(t.Context(), bench, code, "Mona", "short"); err == nil {
		t.Error("claimed with a short password")
	}
	c.at = c.at.Add(claimLife)
	if _, err := claim(code); !errors.Is(err, ErrRefused) {
		t.Errorf("an hour later: %v", err)
	}
	code = strings.ToUpper(b.ClaimCode())
	secret, err := claim(" " + code)
	if err != nil {
		t.Fatal(err)
	}
	if v, ok := b.Visitor(t.Context(), secret); !ok || v.Role != Owner {
		t.Errorf("claimed by %+v", v)
	}
	if _, err := claim(code); !errors.Is(err, ErrRefused) {
		t.Errorf("a second time: %v", err)
	}
	if claimed, err := b.Claimed(t.Context()); err != nil || !claimed {
		t.Errorf("claimed: %v, %v", claimed, err)
	}
	var input *InputError
	if _, err := b.Claim(t.Context(), bench, b.ClaimCode(), "Eve", good); !errors.As(err, &input) {
		t.Errorf("another owner by another code: %v", err)
	}
}

func TestTheLastOwnerStays(t *testing.T) {
	b, _ := open(t)
	add(t, b, "mona", Owner)
	add(t, b, "screen", Wall)
	var input *InputError
	if err := b.Remove(t.Context(), "mona"); !errors.As(err, &input) {
		t.Errorf("the only owner: %v", err)
	}
	add(t, b, "ida", Owner)
	secret := logIn(t, b, "mona")
	if err := b.Remove(t.Context(), "mona"); err != nil {
		t.Error(err)
	}
	if _, ok := b.Visitor(t.Context(), secret); ok {
		t.Error("the session outlives its account")
	}
	if err := b.Remove(t.Context(), "mona"); !errors.Is(err, ErrUnknown) {
		t.Errorf("once more: %v", err)
	}
	if err := b.SetPassword(t.Context(), "mona", good); !errors.Is(err, ErrUnknown) {
		t.Errorf("a password for nobody: %v", err)
	}
}

// The file holds neither passwords nor what sessions and nodes show.
func TestTheFileHoldsNoSecret(t *testing.T) {
	c := &clock{time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)}
	path := filepath.Join(t.TempDir(), "access.db")
	b, err := Open(t.Context(), Options{Path: path, Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	add(t, b, "mona", Owner)
	secrets := []string{good, logIn(t, b, "mona")}
	node, err := b.AddNode(t.Context(), "back-room", "bench")
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), "mona") {
		t.Fatal("the account is not in the file either")
	}
	for _, s := range append(secrets, node) {
		if strings.Contains(string(text), s) {
			t.Errorf("the file holds %q", s)
		}
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file's mode is %v, %v", info.Mode(), err)
	}
}

func TestNodesComeAndGo(t *testing.T) {
	b, _ := open(t)
	ctx := t.Context()
	first, err := b.AddNode(ctx, "back-room", "bench")
	if err != nil {
		t.Fatal(err)
	}
	second, err := b.AddNode(ctx, "back-room", "bench")
	if err != nil {
		t.Fatal(err)
	}
	for password, want := range map[string]bool{first: false, second: true, "": false} {
		if got := b.AdmitsNode(ctx, "back-room", "bench", []byte(password)); got != want {
			t.Errorf("%q is let in: %v", password, got)
		}
	}
	if b.AdmitsNode(ctx, "back-room", "loft", []byte(second)) || b.AdmitsNode(ctx, "back-room", "loft", make([]byte, 32)) {
		t.Error("a node that there is not is let in")
	}
	if err := b.RemoveNode(ctx, "back-room", "bench"); err != nil || b.KnowsNode(ctx, "back-room", "bench") {
		t.Errorf("removed: %v", err)
	}
	if err := b.RemoveNode(ctx, "back-room", "bench"); !errors.Is(err, ErrUnknown) {
		t.Errorf("once more: %v", err)
	}
}

// Whatever stands in the place of a hash, and however much memory it asks for,
// nothing matches it.
func TestHashesThatCannotBe(t *testing.T) {
	var h hashing
	for _, kept := range []string{
		"", "$", "$argon2id$v=19$m=99999999,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		"$argon2id$v=19$m=64,t=0,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		"$argon2i$v=19$m=64,t=1,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
		"$argon2id$v=19$m=64,t=1,p=1$AAAA$AAAA",
	} {
		if h.matches(good, kept) {
			t.Errorf("%q is matched", kept)
		}
	}
}

func TestTheBookOfLogIns(t *testing.T) {
	b, _ := open(t)
	add(t, b, "mona", Owner)
	_, _ = b.LogIn(t.Context(), bench, "mona", "wrong password")
	logIn(t, b, "mona")
	entries, err := b.Entries(context.Background(), 10)
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	for _, e := range entries {
		told = append(told, e.What+" "+e.Who+" "+e.Origin)
	}
	want := "logged in mona 192.0.2.7|log-in refused mona 192.0.2.7|account added as owner mona "
	if got := strings.Join(told, "|"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
