package telemetry

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// A broker that had no part in this project carries rounds just the same.
func TestRoundsReachTheHubThroughAnotherBroker(t *testing.T) {
	t.Parallel()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		t.Skip("mosquitto is not installed: the second broker cannot be tried")
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := listener.Addr().String()
	_, port, _ := net.SplitHostPort(at)
	if err := listener.Close(); err != nil {
		t.Fatal(err)
	}
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, "listener %s 127.0.0.1\nallow_anonymous true\npersistence false\n", port), 0o600); err != nil {
		t.Fatal(err)
	}
	command := exec.CommandContext(t.Context(), path, "-c", conf)
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = command.Wait() }) // the test's context has ended it
	s := newSpool(t)
	hub := startHub(t, at, true)
	startCourier(t, at, s, 200*time.Millisecond)
	for seq := range uint64(30) {
		appendRounds(t, s, roundOf(bootA, seq+1))
	}
	until(t, "thirty rounds at the hub", hub.has(30))
	until(t, "the spool is empty", empty(t, s))
	until(t, "the node is online", func() bool { return hub.lastState().Online })
	if st := hub.lastState(); time.Since(st.At).Abs() > time.Hour {
		t.Errorf("online at %s", st.At)
	}
}
