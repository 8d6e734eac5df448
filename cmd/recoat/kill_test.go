package main

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"recoat/internal/alert"
	"recoat/internal/shop"
)

// The process is killed after it has decided and before anything was
// delivered: the phone's service has the connection, and has not answered.
func TestAMessageOutlivesAKillBetweenDecisionAndDelivery(t *testing.T) {
	mute := newSink(t, true)
	path, data := writeConfig(t, mute.URL+"/phone")
	simulated := filepath.Join(data, "simulated")
	journal, err := shop.OpenJournal(t.Context(), folder(simulated).journal())
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	if err := journal.AddRoom(t.Context(), shop.Room{ID: "back-room", Title: "Back room"}, now); err != nil {
		t.Fatal(err)
	}
	addCoat(t, journal, "back-room", now, 90*time.Minute)
	if err := journal.Close(); err != nil {
		t.Fatal(err)
	}

	first := start(t, "up", "--simulate", "--alert", "--config", path)
	select {
	case <-mute.asked:
	case <-time.After(time.Minute):
		t.Fatal("nothing was sent in a minute")
	}
	if err := first.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	_ = first.Wait()
	if n := len(mute.arrived); n != 0 {
		t.Fatalf("%d messages were taken before the kill", n)
	}
	checkUnsent(t, simulated)

	close(mute.answered)
	second := start(t, "up", "--simulate", "--alert", "--config", path)
	m := await(t, mute.arrived, func(m posted) bool { return strings.Contains(m.Title, "Hall table") })
	if m.Title != "Touch test, then recoat: Hall table, top" || m.Cause != "first" {
		t.Errorf("after the restart came %+v", m)
	}
	if err := second.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := second.Wait(); err != nil {
		t.Errorf("after SIGTERM: %v", err)
	}
}

// checkUnsent asserts that the decision is on disk and that nothing says it was
// delivered.
func checkUnsent(t *testing.T, data string) {
	t.Helper()
	outbox, err := alert.OpenOutbox(t.Context(), folder(data).outbox())
	if err != nil {
		t.Fatal(err)
	}
	defer outbox.Close()
	messages, err := outbox.Messages(t.Context(), 10)
	if err != nil || len(messages) == 0 {
		t.Fatalf("%d messages on disk, %v", len(messages), err)
	}
	for _, m := range messages {
		if m.Status == alert.Sent {
			t.Errorf("%q is marked as sent", m.Title)
		}
	}
}
