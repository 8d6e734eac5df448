package upkeep

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"
)

// Nightly does jobs once a night, one after the other.
type Nightly struct {
	Jobs     []Job
	Location *time.Location
	Now      func() time.Time
	Log      *slog.Logger

	failed atomic.Pointer[Failure]
}

// Job is something to be done at night.
type Job struct {
	What string // "back up"
	Do   func(ctx context.Context, now time.Time) error
}

// Failure is what last night's jobs came to, if they failed.
type Failure struct {
	At   time.Time
	What string
	Err  error
}

// The hour of the night, where the shop is, and how often the clock is looked
// at: a Pi's may be set at any time.
const (
	nightHour = 3
	lookEvery = 5 * time.Minute
)

// Failed returns what failed the last time, nil if nothing did.
func (n *Nightly) Failed() *Failure { return n.failed.Load() }

// Run does the jobs every night until ctx ends, and returns nil. A hub that was
// off at that hour makes up for it once it is on.
func (n *Nightly) Run(ctx context.Context) error {
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	last := nightOf(n.Now().In(n.Location))
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-look.C:
		}
		if night := nightOf(n.Now().In(n.Location)); !night.Equal(last) {
			last = night
			n.do(ctx)
		}
	}
}

// nightOf names the night whose work is due at t.
func nightOf(t time.Time) time.Time {
	y, m, d := t.Add(-nightHour * time.Hour).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

func (n *Nightly) do(ctx context.Context) {
	var failure *Failure
	for _, j := range n.Jobs {
		now := n.Now().In(n.Location)
		err := j.Do(ctx, now)
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			n.Log.Error("upkeep at night", "job", j.What, "error", err)
			failure = &Failure{now, j.What, err}
		}
	}
	n.failed.Store(failure)
}
