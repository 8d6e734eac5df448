package telemetry

import "testing"

func TestFiltersCoverWhatTheStandardSays(t *testing.T) {
	for _, c := range []struct {
		pattern, filter string
		want            bool
	}{
		{"a/room1", "a/room1", true},
		{"a/room1", "a/room1/x/y", false},
		{"a/room1", "a/room1/", false},
		{"a/room1", "a/room", false},
		{"a/room1", "a", false},
		{"a/room1", "A/room1", false},
		{"a/room1", "a/+", false},
		{"a/room1", "a/#", false},
		{"a/room1", "#", false},
		{"a/+", "a/b", true},
		{"a/+", "a/", true}, // an empty level is a level
		{"a/+", "a/+", true},
		{"a/+", "a", false},
		{"a/+", "a/b/c", false},
		{"a/+", "a/#", false},
		{"a/+/c", "a/b/c", true},
		{"a/+/c", "a/+/c", true},
		{"a/+/c", "a/b/d", false},
		{"a/+/c", "+/+/c", false},
		// MQTT 3.1.1, section 4.7.1.2: "sport/tennis/player1/#" matches
		// "sport/tennis/player1", "…/ranking" and "…/score/wimbledon".
		{"sport/tennis/player1/#", "sport/tennis/player1", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/#", true},
		{"sport/tennis/player1/#", "sport/tennis/player2", false},
		{"sport/tennis/player1/#", "sport/tennis/#", false},
		// Section 4.7.1.3: "/finance" matches "+/+" and "/+", not "+".
		{"+/+", "/finance", true},
		{"/+", "/finance", true},
		{"+", "/finance", false},
		{"#", "a/b/c", true},
		{"#", "#", true},
		{"#", "+/b", true},
		// Section 4.7.2: neither "#" nor "+/…" matches names that begin with '$'.
		{"#", "$SYS/broker", false},
		{"+/monitor", "$SYS/monitor", false},
		{"$SYS/#", "$SYS/monitor", true},
		{"#", "$share/group/a", false},
		{"#", "$SHARE/group/#", false},
	} {
		if got := covers(c.pattern, c.filter); got != c.want {
			t.Errorf("%q covers %q: %v, want %v", c.pattern, c.filter, got, c.want)
		}
	}
}

func TestAccessIsDeniedUnlessGiven(t *testing.T) {
	a, err := newAccess([]User{
		AgentUser("agent", "birch", "back-room", "bench"), HubUser("hub", "alder"), DeviceUser("mast", "hazel", "back-room", "mast"),
		{Name: "bare", Password: "rowan"},
	}, Nodes{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		user, topic        string
		publish, subscribe bool
	}{
		{"agent", "recoat/1/back-room/bench/readings", true, false},
		{"agent", "recoat/1/back-room/bench/state", true, false},
		{"agent", "recoat/1/back-room/bench/stored", false, true},
		{"agent", "recoat/1/back-room/bench/readings/more", false, false},
		{"agent", "recoat/1/back-room/mast/readings", false, false},
		{"agent", "recoat/1/+/bench/stored", false, false},
		{"agent", "recoat/1/back-room/bench/#", false, false},
		{"hub", "recoat/1/+/+/readings", false, true},
		{"hub", "recoat/1/+/+/state", false, true},
		{"hub", "recoat/1/back-room/bench/readings", false, true},
		{"hub", "recoat/1/back-room/bench/stored", true, false},
		{"hub", "recoat/1/+/+/stored", false, false}, // no topic to publish to
		{"hub", "recoat/1/#", false, false},
		{"hub", "#", false, false},
		{"mast", "recoat/1/back-room/mast/readings", true, false},
		{"mast", "recoat/1/back-room/mast/stored", false, false},
		{"bare", "recoat/1/back-room/bench/readings", false, false},
		{"nobody", "recoat/1/back-room/bench/readings", false, false},
		{"", "", false, false},
		{"hub", "recoat/1/a+/b/readings", false, false},
	} {
		if got := a.mayPublish(c.user, c.topic); got != c.publish {
			t.Errorf("%s publishes to %q: %v", c.user, c.topic, got)
		}
		if got := a.maySubscribe(c.user, c.topic); got != c.subscribe {
			t.Errorf("%s subscribes to %q: %v", c.user, c.topic, got)
		}
	}
	for _, c := range []struct {
		user, password string
		want           bool
	}{{"agent", "birch", true}, {"agent", "Birch", false}, {"agent", "", false}, {"agent", "alder", false}, {"nobody", "birch", false}, {"nobody", "", false}, {"", "", false}} {
		if got := a.admits(c.user, []byte(c.password)); got != c.want {
			t.Errorf("%q with %q: %v", c.user, c.password, got)
		}
	}
}

func TestUsersThatAreRefused(t *testing.T) {
	for name, users := range map[string][]User{
		"no name":       {{Password: "x"}},
		"no password":   {{Name: "a"}},
		"twice":         {{Name: "a", Password: "x"}, {Name: "a", Password: "y"}},
		"an empty rule": {{Name: "a", Password: "x", Publish: []string{""}}},
		"a+":            {{Name: "a", Password: "x", Subscribe: []string{"a+/b"}}},
		"# inside":      {{Name: "a", Password: "x", Subscribe: []string{"a/#/b"}}},
	} {
		if _, err := newAccess(users, Nodes{}); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
