package links

import (
	"sync"
	"time"
)

// Whoever asks has so many tries at once, and gets one back after each pause.
// So many askers are remembered; beyond them all share one.
const (
	burst      = 20
	refill     = 2 * time.Second
	mostAskers = 1000
)

// limiter counts the tries of each asker.
type limiter struct {
	now func() time.Time

	mu  sync.Mutex
	all map[string]*bucket
}

type bucket struct {
	left float64
	at   time.Time
}

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, all: map[string]*bucket{}}
}

// allow takes one try of an asker, if one is left.
func (l *limiter) allow(asker string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if l.all[asker] == nil && len(l.all) >= mostAskers {
		l.forget(now)
		if len(l.all) >= mostAskers {
			asker = ""
		}
	}
	b := l.all[asker]
	if b == nil {
		b = &bucket{left: burst, at: now}
		l.all[asker] = b
	}
	b.fill(now)
	if b.left < 1 {
		return false
	}
	b.left--
	return true
}

// fill gives tries back; a clock that steps back gives none.
func (b *bucket) fill(now time.Time) {
	if d := now.Sub(b.at); d > 0 {
		b.left = min(burst, b.left+d.Seconds()/refill.Seconds())
	}
	b.at = now
}

// forget drops those who have all their tries again.
func (l *limiter) forget(now time.Time) {
	for asker, b := range l.all {
		if b.fill(now); b.left >= burst {
			delete(l.all, asker)
		}
	}
}
