package poll

import (
	"context"
	"slices"
	"sync"
	"time"

	"recoat/sensors"
)

// BusConfig says what hangs on one bus.
type BusConfig struct {
	Name   string
	Guards []*Guard // found so far
	Look   Look     // nil: nothing is looked for again
	// Aside marks what tells of the machine and not of the room: that it still
	// answers is no sign that the room is measured.
	Aside bool
}

// Look looks for what is on a bus now, and returns the guards the bus is to have
// from then on, those that stay among them. It may take as long as the bus below
// lets it.
type Look func(ctx context.Context) []*Guard

// Bus is the sources that wait for one another, because they share a wire. Each
// bus is sampled by itself, so that one that hangs holds up no other. What was
// not there at the start, or is another chip than it was, is looked for again,
// first after ten seconds, then ever more seldom.
type Bus struct {
	cfg BusConfig

	mu     sync.Mutex // guards the rest
	guards []*Guard
	look   chan []*Guard // of a look that is out, nil if none is
	pause  backoff
	sound  int // how many guards were well at the last look
}

// NewBus returns a bus that has not been read yet.
func NewBus(c BusConfig) *Bus {
	return &Bus{cfg: c, guards: slices.Clone(c.Guards), sound: len(c.Guards)}
}

// Name says which bus this is.
func (b *Bus) Name() string { return b.cfg.Name }

// Guards lists what hangs on the bus as far as is known.
func (b *Bus) Guards() []*Guard {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.guards)
}

// Stuck reports whether a read has outlived its deadline and not come back from
// the bus yet.
func (b *Bus) Stuck() bool { return slices.ContainsFunc(b.Guards(), (*Guard).Stuck) }

// Read reads every source of the bus, all at the same time, for no longer than
// ctx lives.
func (b *Bus) Read(ctx context.Context, now time.Time) []sensors.Reading {
	guards := b.Guards()
	parts := make([][]sensors.Reading, len(guards))
	var reads sync.WaitGroup
	for i, g := range guards {
		reads.Go(func() { parts[i] = g.Read(ctx, now) })
	}
	reads.Wait()
	return slices.Concat(parts...)
}

// lookAgain takes what the last look found, and begins another where it is time.
// It waits for nothing: a look that hangs holds one goroutine.
func (b *Bus) lookAgain(ctx context.Context, now time.Time) {
	if b.cfg.Look == nil || b.Stuck() {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.lookedUp() {
		return
	}
	sound := count(b.guards, func(g *Guard) bool { return g.Health().Failures == 0 })
	if sound < b.sound { // something has just failed: perhaps it is another chip now
		b.pause = backoff{}
	}
	b.sound = sound
	fresh := b.pause.wait == 0
	if !fresh && !b.pause.over(now) {
		return
	}
	b.pause.begin(now, betweenLooks, nil)
	if fresh {
		return
	}
	out := make(chan []*Guard, 1)
	b.look = out
	go func() { out <- b.cfg.Look(ctx) }()
}

// lookedUp reports whether no look is out, and takes what the last one found.
// The caller holds mu.
func (b *Bus) lookedUp() bool {
	if b.look == nil {
		return true
	}
	select {
	case found := <-b.look:
		b.look = nil
		if !slices.Equal(found, b.guards) {
			b.guards, b.pause = found, backoff{}
		}
		return true
	default:
		return false
	}
}

func count[T any](list []T, is func(T) bool) (n int) {
	for _, x := range list {
		if is(x) {
			n++
		}
	}
	return n
}
