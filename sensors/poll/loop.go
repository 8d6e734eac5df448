package poll

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"recoat/sensors"
)

// LoopConfig says what a Loop reads, how often, and where the rounds go.
type LoopConfig struct {
	Node   string        // the node's name
	Boot   string        // this start of the machine, as BootID gives it
	First  uint64        // number of the first round, one more than the last of this boot; at least 1
	Period time.Duration // from one round to the next
	Clock  Clock
	Buses  []*Bus
	// Judge, unless nil, sees the readings of every round, in order, at the time
	// since the machine started, and returns what they are worth.
	Judge func(uptime time.Duration, readings []sensors.Reading) []sensors.Reading
	Emit  func(context.Context, sensors.Round) // takes every round, in order
}

// Loop takes rounds from all its buses.
type Loop struct {
	cfg LoopConfig

	mu  sync.Mutex // held for the length of a round
	seq uint64     // of the next round
}

// NewLoop checks the configuration, among others that no two guards give the
// same channel.
func NewLoop(c LoopConfig) (*Loop, error) {
	var wrong error
	switch {
	case c.Node == "" || c.Boot == "":
		wrong = errors.New("a round needs the name of its node and of its boot")
	case c.First < 1:
		wrong = errors.New("rounds are numbered from 1")
	case c.Period <= 0:
		wrong = fmt.Errorf("a period of %s is no period", c.Period)
	case c.Clock == nil || c.Emit == nil:
		wrong = errors.New("a clock and a taker of rounds are needed")
	case len(c.Buses) == 0:
		wrong = errors.New("there is no source to read")
	default:
		wrong = distinct(guardsOf(c.Buses))
	}
	if wrong != nil {
		return nil, fmt.Errorf("set up the sampling loop: %w", wrong)
	}
	return &Loop{cfg: c, seq: c.First}, nil
}

func distinct(guards []*Guard) error {
	from := map[sensors.Channel]string{}
	for _, g := range guards {
		for _, c := range g.cfg.Channels {
			if other, taken := from[c]; taken {
				return fmt.Errorf("%s and %s both give %s: leave one out", other, g.cfg.Name, c)
			}
			from[c] = g.cfg.Name
		}
	}
	return nil
}

// Run takes a round now and one every period, until ctx ends; then it returns
// nil. The beat does not move: where a round takes too long, beats are left out.
func (l *Loop) Run(ctx context.Context) error {
	beat := time.NewTicker(l.cfg.Period)
	defer beat.Stop()
	for {
		if err := l.Once(ctx, l.cfg.Clock.Now()); err != nil {
			return nil // ctx has ended, as asked
		}
		select {
		case <-ctx.Done():
			return nil
		case <-beat.C:
		}
	}
}

// Once takes one round, as of now, and emits it. It gives sources no longer than
// the period, less a tenth. If ctx ends meanwhile nothing is emitted, no number
// is used up, and the error says so.
func (l *Loop) Once(ctx context.Context, now Instant) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	readings := l.collect(ctx, now.Wall)
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("take round %d: %w", l.seq, err)
	}
	if l.cfg.Judge != nil {
		readings = l.cfg.Judge(now.Uptime, readings)
	}
	l.cfg.Emit(ctx, sensors.Round{
		Node:     l.cfg.Node,
		Boot:     l.cfg.Boot,
		Seq:      l.seq,
		Time:     now.Wall.UTC().Truncate(time.Millisecond),
		Uptime:   now.Uptime,
		ClockSet: now.Set,
		Readings: readings,
	})
	l.seq++
	return nil
}

// collect reads each bus by itself. Between rounds the buses are looked over for
// what is new on them.
func (l *Loop) collect(ctx context.Context, wall time.Time) []sensors.Reading {
	bounded, cancel := context.WithTimeout(ctx, l.cfg.Period-l.cfg.Period/10)
	defer cancel()
	parts := make([][]sensors.Reading, len(l.cfg.Buses))
	var reads sync.WaitGroup
	for i, b := range l.cfg.Buses {
		reads.Go(func() {
			parts[i] = b.Read(bounded, wall)
			b.lookAgain(ctx, wall)
		})
	}
	reads.Wait()
	return slices.Concat(parts...)
}

// Health tells how the last read of each source went, bus by bus.
func (l *Loop) Health() []sensors.Health {
	guards := guardsOf(l.cfg.Buses)
	all := make([]sensors.Health, len(guards))
	for i, g := range guards {
		all[i] = g.Health()
	}
	return all
}

// Stuck counts the sources whose read has not come back, which is also the
// number of goroutines they hold.
func (l *Loop) Stuck() int { return count(guardsOf(l.cfg.Buses), (*Guard).Stuck) }

// Sampling reports whether any bus that tells of the room still comes back, with
// values or with errors.
func (l *Loop) Sampling() bool {
	return slices.ContainsFunc(l.cfg.Buses, func(b *Bus) bool { return !b.cfg.Aside && !b.Stuck() })
}

func guardsOf(buses []*Bus) []*Guard {
	var all []*Guard
	for _, b := range buses {
		all = append(all, b.Guards()...)
	}
	return all
}
