package telemetry

import (
	"fmt"
	"os"
	"os/exec"
	"os/user"
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
	me, err := user.Current() // it would become somebody who cannot make the socket
	if err != nil {
		t.Fatal(err)
	}
	socket := filepath.Join(t.TempDir(), "m.sock")
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, "listener 0 %s\nuser %s\nallow_anonymous true\npersistence false\n", socket, me.Username), 0o600); err != nil {
		t.Fatal(err)
	}
	command := exec.CommandContext(t.Context(), path, "-c", conf)
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = command.Wait() }) // the test's context has ended it
	front := startRelay(t)
	front.lead("unix", socket)
	s := newSpool(t)
	hub := startHub(t, front.addr(), true)
	startCourier(t, front.addr(), s, 200*time.Millisecond)
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
