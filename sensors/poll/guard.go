package poll

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"recoat/sensors"
)

// DefaultDeadline is how long a read may take where nothing else is said. It
// leaves a 1-wire probe its 750 ms.
const DefaultDeadline = 2 * time.Second

// GuardConfig says what a Guard guards.
type GuardConfig struct {
	Name     string                         // as sensors.Source.Name would say, for when it cannot be opened
	Channels []sensors.Channel              // what every read lists
	Open     func() (sensors.Source, error) // starts the sensor, first and after every error
	Deadline time.Duration                  // of one read, opening included; 0 for DefaultDeadline
}

// Over returns the configuration that guards a source which needs no restart
// after an error, such as a file of the kernel's.
func Over(s sensors.Source) GuardConfig {
	return GuardConfig{
		Name:     s.Name(),
		Channels: s.Channels(),
		Open:     func() (sensors.Source, error) { return s, nil },
	}
}

// Guard stands before one source. It bounds each read, throws away what comes
// with an error or too late, refuses values that stand for a fault, and starts
// the source again after an error, first after a second, then ever more seldom.
type Guard struct {
	cfg GuardConfig

	turn   sync.Mutex // held for the length of a read; guards the next three
	source sensors.Source
	late   <-chan outcome // of a read that outlived its deadline, nil if none has
	pause  backoff

	mu     sync.Mutex // guards the rest
	health sensors.Health
	stuck  bool
}

type outcome struct {
	source   sensors.Source
	readings []sensors.Reading
	err      error
}

// errLate is what a read says that has outlived its deadline.
var errLate = errors.New("no answer in time")

// NewGuard returns a guard that has not read yet.
func NewGuard(c GuardConfig) *Guard {
	if c.Deadline <= 0 {
		c.Deadline = DefaultDeadline
	}
	return &Guard{cfg: c, health: sensors.Health{Source: c.Name, Err: "not read yet"}}
}

// Read measures once and returns one reading for each channel of the source,
// missing where nothing was measured. It returns within the guard's deadline or
// when ctx ends. While an earlier read has still not come back it reads nothing,
// so a source that hangs holds one goroutine, not one per round.
func (g *Guard) Read(ctx context.Context, now time.Time) []sensors.Reading {
	g.turn.Lock()
	defer g.turn.Unlock()
	start := time.Now()
	readings, err := g.attempt(ctx, now)
	g.note(now, time.Since(start), err)
	if err != nil {
		return g.nothing()
	}
	return readings
}

// Name says which source is guarded.
func (g *Guard) Name() string { return g.cfg.Name }

// Channels lists what every read lists.
func (g *Guard) Channels() []sensors.Channel { return slices.Clone(g.cfg.Channels) }

// Health tells how the last read went.
func (g *Guard) Health() sensors.Health {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.health
}

// Stuck reports whether a read has outlived its deadline and not come back yet.
// That read holds a goroutine for as long.
func (g *Guard) Stuck() bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.stuck
}

func (g *Guard) attempt(ctx context.Context, now time.Time) ([]sensors.Reading, error) {
	if !g.cameBack() {
		return nil, fmt.Errorf("%w, and still none", errLate)
	}
	if !g.pause.over(now) {
		return nil, g.pause.err
	}
	got, err := g.bounded(ctx)
	if err == nil {
		got, err = g.sift(got)
	}
	if err != nil {
		g.source = nil
		g.pause.begin(now, afterFailure, err)
		return nil, err
	}
	g.pause = backoff{}
	return got, nil
}

// cameBack reports whether no read is out. What a late one brought is dropped:
// it belongs to no round.
func (g *Guard) cameBack() bool {
	if g.late == nil {
		return true
	}
	select {
	case <-g.late:
		g.late = nil
		return true
	default:
		return false
	}
}

func (g *Guard) bounded(ctx context.Context) ([]sensors.Reading, error) {
	ctx, cancel := context.WithTimeout(ctx, g.cfg.Deadline)
	defer cancel()
	done := make(chan outcome, 1)
	source := g.source
	go func() { done <- readOnce(ctx, source, g.cfg.Open) }()
	select {
	case o := <-done:
		g.source = o.source
		return o.readings, o.err
	case <-ctx.Done():
		g.late = done
		return nil, errLate
	}
}

func readOnce(ctx context.Context, s sensors.Source, open func() (sensors.Source, error)) outcome {
	if s == nil {
		var err error
		if s, err = open(); err != nil {
			return outcome{err: err}
		}
	}
	readings, err := s.Read(ctx)
	return outcome{s, readings, err}
}

// sift returns one reading for each channel, judged, and an error if none of
// them holds a value.
func (g *Guard) sift(got []sensors.Reading) ([]sensors.Reading, error) {
	sifted := g.nothing()
	var refused []string
	measured := false
	for i, want := range sifted {
		at := slices.IndexFunc(got, func(r sensors.Reading) bool { return r.Channel == want.Channel })
		if at < 0 {
			continue
		}
		r, err := judge(got[at])
		sifted[i] = r
		if err != nil {
			refused = append(refused, err.Error())
		}
		measured = measured || r.Quality != sensors.Missing
	}
	switch {
	case measured:
		return sifted, nil
	case len(refused) == 0:
		return nil, errors.New("the source gave no value for any of its channels")
	default:
		return nil, errors.New(strings.Join(refused, "; "))
	}
}

func (g *Guard) nothing() []sensors.Reading {
	none := make([]sensors.Reading, len(g.cfg.Channels))
	for i, c := range g.cfg.Channels {
		none[i] = sensors.Reading{Channel: c, Quality: sensors.Missing}
	}
	return none
}

func (g *Guard) note(now time.Time, took time.Duration, err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.stuck = g.late != nil
	h := &g.health
	h.OK, h.Took = err == nil, took
	if err != nil {
		h.Err = err.Error()
		h.Failures++
		return
	}
	h.Err, h.LastGood, h.Failures = "", now, 0
}
