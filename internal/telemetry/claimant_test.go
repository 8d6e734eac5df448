package telemetry

import (
	"strings"
	"testing"
	"time"
)

// shareUser is a hub that shares the broker, with the rights that the shipped
// access list gives one.
func shareUser(name string, rooms ...string) User {
	u := User{Name: name, Password: "pw-" + name, Publish: []string{ClaimTopic(name)}, Subscribe: []string{ClaimTopic("+")}}
	for _, room := range rooms {
		of := func(k Kind) string { return topicRoot + room + "/+/" + string(k) }
		u.Publish = append(u.Publish, of(Stored), of(Refused))
		u.Subscribe = append(u.Subscribe, of(Readings), of(State))
	}
	return u
}

func shareBroker(t *testing.T, users ...User) string {
	t.Helper()
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: append(users, testUsers()...), Log: logged(t)})
	if err != nil {
		t.Fatal(err)
	}
	start(t, b.Run)
	return b.Addr().String()
}

func startClaimant(t *testing.T, at, hub, instance string, rooms ...string) (*Claimant, func()) {
	t.Helper()
	c, err := NewClaimant(ClaimantConfig{
		Link: link(at, hub, "pw-"+hub), Hub: hub, Instance: instance, Rooms: rooms, Log: logged(t), Settle: 200 * time.Millisecond, Renew: 200 * time.Millisecond,
	})
	if err != nil {
		t.Fatal(err)
	}
	return c, start(t, c.Run)
}

func settled(t *testing.T, c *Claimant) {
	t.Helper()
	select {
	case <-c.Settled():
	case <-time.After(patience):
		t.Fatal("it never settles")
	}
}

// The hub that was there first keeps a room that a second one asks for, and the
// second leaves it alone until it is started anew.
func TestASecondHubStandsBack(t *testing.T) {
	t.Parallel()
	at := shareBroker(t, shareUser("north", "loft"), shareUser("south", "loft", "shed"))
	north, stopNorth := startClaimant(t, at, "north", "n1", "loft")
	settled(t, north)
	until(t, "the claim is there", func() bool { return len(claims(t, at, "south")) == 1 })
	south, stopSouth := startClaimant(t, at, "south", "s1", "loft", "shed")
	settled(t, south)
	if !north.Owns("loft") || south.Owns("loft") || !south.Owns("shed") || north.Owns("shed") {
		t.Errorf("north has the loft %v, south has it %v", north.Owns("loft"), south.Owns("loft"))
	}
	until(t, "the second tells of it", func() bool {
		told := south.Troubles()
		return len(told) == 1 && strings.HasPrefix(told[0], "Room loft: not taken here, as another hub, north, has it. Give")
	})
	until(t, "it leaves the room in what it claims", func() bool {
		all := claims(t, at, "south")
		return len(all) == 2 && !all[1].Covers("loft") && all[1].Covers("shed")
	})
	stopNorth()
	until(t, "the first is heard no more", func() bool {
		told := south.Troubles()
		return len(told) == 1 && strings.Contains(told[0], "It is not heard any more.")
	})
	if south.Owns("loft") {
		t.Error("the second takes the room of one that is only gone")
	}
	stopSouth()
	again, _ := startClaimant(t, at, "south", "s2", "loft", "shed")
	settled(t, again)
	if !again.Owns("loft") || len(again.Troubles()) != 0 {
		t.Errorf("started anew it does not take the room: %q", again.Troubles())
	}
}

func claims(t *testing.T, at, user string) []Claim {
	t.Helper()
	all, err := HearClaims(t.Context(), link(at, user, "pw-"+user), "asker", 200*time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestABrokerThatTellsNoClaimsKeepsNothingFromTheHub(t *testing.T) {
	t.Parallel()
	at := shareBroker(t, User{Name: "north", Password: "pw-north", Publish: []string{ClaimTopic("north")}}, User{Name: "old", Password: "pw-old"})
	for _, hub := range []string{"north", "old"} { // it may only speak; not even that
		c, _ := startClaimant(t, at, hub, "n1", "loft")
		settled(t, c)
		if !c.Owns("loft") {
			t.Errorf("%s takes nothing", hub)
		}
	}
	if _, err := HearClaims(t.Context(), link(at, "north", "pw-north"), "asker", time.Second); err == nil {
		t.Error("a refused subscription is no error")
	}
}

// A hub with rooms of its own is told of these alone, and neither takes nor
// acknowledges anything of another's.
func TestAHubWithRoomsOfItsOwnHearsTheseAlone(t *testing.T) {
	t.Parallel()
	at := shareBroker(t, shareUser("north", "back-room"))
	got := make(chan string, 10)
	r, err := NewReceiver(ReceiverConfig{
		Link: link(at, "north", "pw-north"), Hub: "north", Rooms: []string{"back-room", "loft"}, Log: logged(t),
		Owns: func(room string) bool { return room == "back-room" }, Handle: func(d Delivery) { got <- d.Room },
	})
	if err != nil {
		t.Fatal(err)
	}
	// Straight into its queue, as what a session brings that was subscribed to more.
	for _, topic := range []string{"attic/bench/readings", "loft/bench/readings", "back-room/mast/readings"} {
		r.messages <- message{topic: topicRoot + topic, payload: []byte(`[{"n":"air-temperature","u":"Cel","v":20}]`), received: received}
	}
	start(t, r.Run)
	if room := <-got; room != "back-room" {
		t.Errorf("it takes a round of %s", room)
	}
	if n := r.Stats().Others; n != 2 {
		t.Errorf("%d publications were others', want 2", n)
	}
}
