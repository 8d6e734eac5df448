package telemetry

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func claimOf(hub string, since time.Time, rooms ...string) Claim {
	return Claim{Hub: hub, Instance: hub + "-1", Since: since, Rooms: rooms}
}

func TestAClaimComesBackAsItWasSent(t *testing.T) {
	for _, c := range []Claim{claimOf("north", received), claimOf("south", received.Add(time.Millisecond), "back-room", "loft"),
		{Hub: "all", Instance: "a1", Since: received, Except: []string{"loft"}}, {Hub: "north", Instance: "n1", Gone: true}} {
		payload, err := c.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if got, err := DecodeClaim(payload); err != nil || !cmp.Equal(c, got) {
			t.Errorf("%s: %+v, %v", payload, got, err)
		}
	}
}

func TestClaimsThatAreRefused(t *testing.T) {
	const good = `{"hub":"north","instance":"i1","since":"2026-03-01T22:00:00.000Z","rooms":["loft"]}`
	if _, err := DecodeClaim([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{
		`"north"`: `"North"`, `"i1"`: `""`, `2026-03-01T22:00:00.000Z`: `1970-01-01T00:00:00.000Z`, `["loft"]`: `["loft","loft"]`,
		`"loft"`: `"lo/ft"`, `}`: `,"x":1}`, `"rooms":["loft"]`: `"gone":true`, `{"hub"`: `{}{"hub"`,
	} {
		if c, err := DecodeClaim([]byte(strings.Replace(good, from, to, 1))); err == nil {
			t.Errorf("%s for %s is taken: %+v", to, from, c)
		}
	}
	if err := CheckOwnRooms(slices.Repeat([]string{"a"}, MaxOwnRooms+1)); err == nil {
		t.Error("more rooms than a claim can hold are taken")
	}
}

func TestWhichRoomsTwoClaimsShare(t *testing.T) {
	for _, c := range []struct {
		a, b, want []string
		all        bool
	}{
		{nil, nil, nil, true},
		{nil, []string{"loft"}, []string{"loft"}, false},
		{[]string{"loft"}, nil, []string{"loft"}, false},
		{[]string{"attic", "loft"}, []string{"loft", "shed"}, []string{"loft"}, false},
		{[]string{"attic"}, []string{"shed"}, nil, false},
	} {
		got, all := Claim{Rooms: c.a}.Shared(Claim{Rooms: c.b})
		if all != c.all || !slices.Equal(got, c.want) {
			t.Errorf("%v and %v share %v, all %v", c.a, c.b, got, all)
		}
	}
}

// Of two hubs that both ask for a room exactly one has it, whichever clock is
// wrong, and in whichever order each hears of the other.
func TestARoomHasOneHub(t *testing.T) {
	years := []time.Duration{-30 * 365 * 24 * time.Hour, 0, time.Millisecond, 24 * time.Hour}
	for _, off := range years {
		a, b := newRoster(claimOf("a", time.Time{}, "loft", "attic")), newRoster(claimOf("b", time.Time{}, "loft", "shed"))
		first := a.claim(received, 0)
		// b comes later, hears a's claim that the broker kept, and then says its own.
		b.hear(first, true, 0)
		second := b.claim(received.Add(off), 0)
		a.hear(second, false, 0)
		if !a.owns("loft", 0) || b.owns("loft", 0) {
			t.Errorf("clocks %s apart: the hub that had it first: %v, the other: %v", off, a.owns("loft", 0), b.owns("loft", 0))
		}
		if !a.owns("attic", 0) || !b.owns("shed", 0) || a.owns("shed", 0) {
			t.Errorf("clocks %s apart: rooms that only one asks for are not its own", off)
		}

		// Neither has heard of the other when it first speaks.
		c, d := newRoster(claimOf("c", time.Time{})), newRoster(claimOf("d", time.Time{}, "loft"))
		one, other := c.claim(received, 0), d.claim(received.Add(off), 0)
		c.hear(other, false, 0)
		d.hear(one, false, 0)
		if c.owns("loft", 0) == d.owns("loft", 0) {
			t.Errorf("clocks %s apart: both or neither have it: %v", off, c.owns("loft", 0))
		}
	}
}

func TestAKeptClaimCountsForAWhile(t *testing.T) {
	r := newRoster(claimOf("b", time.Time{}, "loft", "shed"))
	other := claimOf("a", received, "loft")
	r.hear(other, true, 0)
	r.claim(received.Add(time.Hour), 0)
	for at, want := range map[time.Duration]bool{0: false, claimLife: false, claimLife + 1: true} {
		if got := r.owns("loft", at); got != want {
			t.Errorf("after %s it is this hub's: %v", at, got)
		}
	}
	if told := r.troubles(0); len(told) != 1 || !strings.Contains(told[0], "waited for") {
		t.Errorf("told: %q", told)
	}
	r.leave(other)
	if !r.owns("loft", 0) {
		t.Error("a claim that was taken back counts")
	}
	// Said just now, it holds until this hub is started anew.
	r.hear(other, false, 0)
	r.leave(other)
	if r.owns("loft", time.Hour) || !r.owns("shed", time.Hour) {
		t.Error("a room of a hub that lives is taken from it")
	}
	if c := r.claim(received, time.Hour); c.Covers("loft") || !c.Covers("shed") {
		t.Errorf("it claims %+v", c)
	}
}

func TestAHubThatLeavesAllClaimsNothing(t *testing.T) {
	for _, rooms := range [][]string{nil, {"loft"}} {
		r := newRoster(claimOf("b", time.Time{}, rooms...))
		r.claim(received.Add(time.Hour), 0)
		r.hear(claimOf("a", received), false, 0)
		if c := r.claim(received, 0); !c.Gone || r.owns("loft", 0) {
			t.Errorf("%v: it claims %+v", rooms, c)
		}
		if _, err := r.said().Encode(); err != nil {
			t.Error(err)
		}
	}
	// Every room but those that another names.
	r := newRoster(claimOf("b", time.Time{}))
	r.claim(received.Add(time.Hour), 0)
	r.hear(claimOf("a", received, "loft"), false, 0)
	if c := r.claim(received, 0); c.Covers("loft") || !c.Covers("shed") {
		t.Errorf("it claims %+v", c)
	}
}

func TestTwoHubsOfOneNameAreToldApart(t *testing.T) {
	own := claimOf("hub", time.Time{})
	r := newRoster(own)
	r.claim(received, 0)
	former, twin := own, own
	former.Instance, former.Since = "before", received.Add(-time.Hour)
	if r.hear(former, true, 0); !r.owns("loft", 0) || len(r.troubles(0)) > 0 {
		t.Errorf("what this hub's last start left stands in its way: %q", r.troubles(0))
	}
	twin.Instance, twin.Since = "twin", received.Add(time.Hour)
	if fresh := r.hear(twin, false, 0); !fresh || !r.owns("loft", 0) {
		t.Error("a later hub of the same name takes the rooms")
	}
	if again := r.hear(twin, false, time.Second); again {
		t.Error("it is answered each time")
	}
	earlier := twin
	earlier.Instance, earlier.Since = "earlier", received.Add(-time.Hour)
	r.hear(earlier, false, 0)
	if told := r.troubles(0); r.owns("loft", 0) || !slices.ContainsFunc(told, func(s string) bool { return strings.Contains(s, "Stop one of the two") }) {
		t.Errorf("told: %q", told)
	}
}

func TestHubsThatNobodyCanCountAreNotKept(t *testing.T) {
	r := newRoster(claimOf("hub", received))
	for i := range 3 * maxHubs {
		c := claimOf("x", received, "shed")
		c.Instance = "i" + strings.Repeat("x", i%50) + string(rune('a'+i/50))
		r.hear(c, false, 0)
	}
	if len(r.heard) > maxHubs {
		t.Errorf("%d claims are kept", len(r.heard))
	}
}
