package telemetry

import (
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestReachTellsWhoMayIn(t *testing.T) {
	t.Parallel()
	at, _ := startBroker(t)
	if err := Reach(t.Context(), link(at, "hub", "alder"), "doctor", patience); err != nil {
		t.Error(err)
	}
	if err := Reach(t.Context(), link(at, "hub", "wrong"), "doctor", patience); err == nil {
		t.Error("a wrong password is let in")
	}
	if err := Reach(t.Context(), Link{URL: "shop.example"}, "doctor", patience); err == nil || !strings.Contains(err.Error(), "tcp://host:port") {
		t.Errorf("no address: %v", err)
	}
	mute, err := net.Listen("tcp", "127.0.0.1:0") // takes connections, and never speaks
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	start := time.Now()
	if err := Reach(t.Context(), Link{URL: "tcp://" + mute.Addr().String()}, "doctor", 300*time.Millisecond); err == nil || time.Since(start) > patience {
		t.Errorf("a broker that is mute: %v after %s", err, time.Since(start))
	}
}

// The spool is looked into beside the agent that has it open.
func TestWaitingCountsWhatTheHubHasNot(t *testing.T) {
	path := filepath.Join(t.TempDir(), "spool.db")
	s, err := OpenSpool(t.Context(), SpoolConfig{Path: path, Node: "bench", Boot: bootA, MaxBytes: 1 << 20})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if b, err := Waiting(t.Context(), path); err != nil || b != (Backlog{}) {
		t.Errorf("an empty spool: %+v, %v", b, err)
	}
	first := roundOf(bootA, 1)
	appendRounds(t, s, first, roundOf(bootA, 2))
	b, err := Waiting(t.Context(), path)
	if err != nil || b.Rounds != 2 || !b.Oldest.Equal(first.Time.Truncate(time.Millisecond)) {
		t.Errorf("%+v, %v", b, err)
	}
	if _, err := Waiting(t.Context(), path+"x"); err == nil {
		t.Error("a spool that is not there is looked into")
	}
}
