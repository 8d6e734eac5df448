package telemetry

import (
	"context"
	"testing"
	"time"
)

// The first attempt of all waits for nothing; each that follows waits for part of
// a span that is doubled up to its bound, and is short again after a connection.
func TestAttemptsAreSpreadOverAGrowingSpan(t *testing.T) {
	s := &spread{step: 5 * time.Second, longest: time.Minute}
	for i, want := range []time.Duration{0, 5 * time.Second, 10 * time.Second, 20 * time.Second, 40 * time.Second, time.Minute, time.Minute} {
		if got := s.next(); got != want {
			t.Errorf("attempt %d: %s, want %s", i, got, want)
		}
	}
	s.over()
	if got := s.next(); got != 5*time.Second {
		t.Errorf("after a connection: %s", got)
	}
}

func TestASpreadAttemptEndsWithItsContext(t *testing.T) {
	s := &spread{step: time.Hour, longest: time.Hour, started: true, span: time.Hour}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	began := time.Now()
	if s.wait(ctx); time.Since(began) > time.Minute {
		t.Error("it waits on")
	}
}
