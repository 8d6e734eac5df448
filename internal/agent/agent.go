// Package agent is the half of recoat that stands in the room: it takes rounds
// from the sensors, spools each before anything else happens to it, and sees
// the spool through to the hub.
package agent

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/poll"
)

// Config is what an agent is made of.
type Config struct {
	Room, Node string
	Boot       string // this start of the machine
	Period     time.Duration
	Clock      poll.Clock
	Buses      []*poll.Bus
	// Judge may lower the quality of readings before they go anywhere, given
	// the uptime; nil lets them pass.
	Judge      func(time.Duration, []sensors.Reading) []sensors.Reading
	Spool      string // path of its file
	SpoolBytes int64  // what it may grow to; 0: 64 MiB
	Link       telemetry.Link
	Resend     time.Duration // how long the hub's acknowledgement may take; 0: the courier's default
	Log        *slog.Logger
}

const spoolBytes = 64 << 20

// Agent is an open spool with what fills and empties it.
type Agent struct {
	cfg     Config
	spool   *telemetry.Spool
	loop    *poll.Loop
	courier *telemetry.Courier
	wasSet  bool // the clock, at the last round, and earlier rounds have their right times
	trouble bool // the spool failed at the last round
	uneven  bool // earlier rounds could not be given their right times yet
	sampled atomic.Uint64
	spooled atomic.Uint64
}

// Open opens the spool and goes on counting where this boot left off.
func Open(ctx context.Context, cfg Config) (*Agent, error) {
	if cfg.SpoolBytes == 0 {
		cfg.SpoolBytes = spoolBytes
	}
	spool, err := telemetry.OpenSpool(ctx, telemetry.SpoolConfig{Path: cfg.Spool, Node: cfg.Node, Boot: cfg.Boot, MaxBytes: cfg.SpoolBytes})
	if err != nil {
		return nil, err
	}
	a := &Agent{cfg: cfg, spool: spool}
	if err := a.assemble(ctx); err != nil {
		return nil, errors.Join(err, spool.Close())
	}
	return a, nil
}

func (a *Agent) assemble(ctx context.Context) error {
	last, err := a.spool.LastSeq(ctx)
	if err != nil {
		return err
	}
	a.loop, err = poll.NewLoop(poll.LoopConfig{
		Node: a.cfg.Node, Boot: a.cfg.Boot, First: last + 1, Period: a.cfg.Period,
		Clock: a.cfg.Clock, Buses: a.cfg.Buses, Judge: a.cfg.Judge, Emit: a.emit,
	})
	if err != nil {
		return err
	}
	a.courier, err = telemetry.NewCourier(telemetry.CourierConfig{
		Link: a.cfg.Link, Room: a.cfg.Room, Node: a.cfg.Node, Boot: a.cfg.Boot,
		Outbox: a.spool, Log: a.cfg.Log, Resend: a.cfg.Resend,
		Now: func() time.Time {
			now := a.cfg.Clock.Now()
			return telemetry.Unset(now.Wall, now.Uptime)
		},
	})
	return err
}

// Close closes the spool; call it once Run has returned.
func (a *Agent) Close() error { return a.spool.Close() }

// Health tells how the last read of each source went.
func (a *Agent) Health() []sensors.Health { return a.loop.Health() }

// Once takes one round as of now, for a simulation that runs ahead of the
// clock. It must not be called while Run runs.
func (a *Agent) Once(ctx context.Context, now poll.Instant) error { return a.loop.Once(ctx, now) }

// Run samples and sends until ctx ends.
func (a *Agent) Run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var wg sync.WaitGroup
	var sampling, sending error
	wg.Go(func() {
		defer stop()
		sampling = a.loop.Run(ctx)
	})
	wg.Go(func() {
		defer stop()
		sending = a.courier.Run(ctx)
	})
	wg.Wait()
	return errors.Join(sampling, sending)
}

// emit makes a round durable. Where the clock has just been set, the rounds of
// this boot that were taken before get their right times and are sent again.
func (a *Agent) emit(ctx context.Context, round sensors.Round) {
	err := a.spool.Append(ctx, round)
	if err != nil && !a.trouble && ctx.Err() == nil {
		a.cfg.Log.Error("a round could not be spooled and is lost; so are the next until this is mended", "seq", round.Seq, "error", err)
	}
	a.trouble = err != nil
	if err == nil {
		a.spooled.Add(1)
	}
	if a.loop.Sampling() {
		a.sampled.Add(1)
	}
	a.wasSet = round.ClockSet && (a.wasSet || a.correct(ctx, round))
}

// correct reports whether it could; else the next round tries again.
func (a *Agent) correct(ctx context.Context, round sensors.Round) bool {
	n, err := a.spool.Correct(ctx, round.Time, round.Uptime)
	switch {
	case err != nil && !a.uneven && ctx.Err() == nil:
		a.cfg.Log.Error("the clock is set, but earlier rounds could not be corrected, will try again", "error", err)
	case n > 0:
		a.cfg.Log.Info("the clock is set: earlier rounds of this boot get their right times", "rounds", n)
	}
	a.uneven = err != nil
	return err == nil
}

// Boot returns the machine's boot id, or a random one where the machine has
// none to tell.
func Boot(root string, random func() string, log *slog.Logger) string {
	id, err := poll.BootID(root)
	if err != nil {
		log.Info(fmt.Sprintf("this start of the agent counts as a boot of the machine: %v", err))
		return random()
	}
	return id
}
