package telemetry

import (
	"context"
	"math/rand/v2"
	"sync"
	"time"
)

// spread keeps clients that lost one broker together from coming back together:
// each attempt to connect waits for a random part of a span of its own, beside
// the library's wait, which is the same for all. The span is doubled with each
// attempt. The very first attempt of a client waits for nothing.
type spread struct {
	step, longest time.Duration

	mu      sync.Mutex
	span    time.Duration // of the next attempt
	started bool
}

// next is the span of this attempt.
func (s *spread) next() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.started {
		s.started, s.span = true, s.step
		return 0
	}
	span := s.span
	s.span = min(2*span, s.longest)
	return span
}

// over is told that a connection stands.
func (s *spread) over() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.span = s.step
}

// wait returns when it is time for an attempt, or when ctx ends.
func (s *spread) wait(ctx context.Context) {
	span := s.next()
	if span <= 0 {
		return
	}
	select {
	case <-ctx.Done():
	case <-time.After(rand.N(span)):
	}
}
