// Package hub runs the rooms: one goroutine owns them all, takes what nodes
// and people say, and hands the effects to the store, the alerts and the pages
// over bounded channels.
package hub

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"sort"
	"sync/atomic"
	"time"

	"recoat/drying/learn"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
	"recoat/internal/store"
	"recoat/internal/telemetry"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Journal is what the hub asks of the journal.
type Journal interface {
	Rooms(ctx context.Context) ([]shop.Room, error)
	OpenCoats(ctx context.Context, room string) ([]shop.Coat, error)
	Coat(ctx context.Context, id string) (shop.Coat, error)
	AllTouches(ctx context.Context) ([]shop.Touch, error)
	Watch(ctx context.Context) <-chan struct{} // ticks after each change
}

// Decisions is where the hub records what it decided to tell.
type Decisions interface {
	Episodes(ctx context.Context, limit int32) ([]alert.Episode, error)
	Standing(ctx context.Context) (alert.Standing, error)
	Commit(ctx context.Context, transitions []alert.Transition, messages []alert.Message) error
	Troubles(ctx context.Context) ([]alert.Trouble, error)
	Wishes(ctx context.Context) ([]alert.Wish, error)
}

// Workpieces is what the hub asks of the journal about what is still to be put
// on.
type Workpieces interface {
	Pieces(ctx context.Context) ([]shop.Piece, error)
	Coats(ctx context.Context, f shop.CoatFilter) ([]shop.Coat, error)
	Schedules(ctx context.Context, piece string) ([]schedule.Part, error)
	Stays(ctx context.Context, c shop.Coat) ([]shop.Stay, error)
}

// Options are what a hub is made of.
type Options struct {
	Readings      store.Readings
	Journal       Journal
	Decisions     Decisions
	Checks        Checks            // of the sensors; nil: none
	Book          *calibration.Book // what follows from them, which Readings is read through; nil: nothing
	Channels      []string          // names of the channels to the phone
	Second        []string          // those that are told what nobody acknowledges
	EscalateAfter time.Duration     // and after how long; 0: never
	Quiet         alert.QuietHours
	Workpieces    Workpieces // nil: nothing is known of what is still to be put on
	Watch         Watch
	Fahrenheit    bool // what is told is in °F
	NewID         func() string
	Now           func() alert.Instant
	Tick          time.Duration // how often time is an event; 0: five seconds
	Batch         time.Duration // how long rounds gather before one commit; 0: two seconds
	SilentAfter   time.Duration
	Location      *time.Location // the shop's; nil: UTC
	// Owns says whether a room is this hub's now, where several share a broker. What
	// is not is neither followed nor told of; nil: every room is its own.
	Owns func(room string) bool
	Log  *slog.Logger
}

// Hub owns the rooms. Its methods may be called from any goroutine while Run
// runs.
type Hub struct {
	opt       Options
	rooms     map[string]*owned
	left      map[string]bool // rooms that became another hub's
	lessons   lessons
	house     *house
	router    *alert.Router
	undecided decisions // not recorded yet, oldest first
	writer    *writer
	arrivals  chan arrival
	slots     slots
	asks      chan chan []room.Snapshot
	seen      chan sighting
	pulse     chan chan error
	watchers  watchers
	ready     chan struct{}
	stopped   chan struct{}
	turns     atomic.Uint64
}

// queue bounds what waits for the hub, and for the store. A delivery beyond it
// waits a little, and is then dropped without acknowledgement, so that its node
// sends it again.
const queue = 2048

// New returns a hub that does nothing until Run.
func New(opt Options) *Hub {
	opt.Tick = cmp.Or(opt.Tick, 5*time.Second)
	opt.Batch = cmp.Or(opt.Batch, 2*time.Second)
	if opt.Location == nil {
		opt.Location = time.UTC
	}
	if opt.Owns == nil {
		opt.Owns = func(string) bool { return true }
	}
	return &Hub{
		opt:      opt,
		rooms:    map[string]*owned{},
		left:     map[string]bool{},
		lessons:  lessons{read: map[string]learn.Test{}, told: map[string]bool{}},
		writer:   newWriter(opt.Readings, opt.Batch, opt.Log),
		arrivals: make(chan arrival, queue),
		slots:    make(slots, queue),
		asks:     make(chan chan []room.Snapshot),
		seen:     make(chan sighting),
		pulse:    make(chan chan error),
		ready:    make(chan struct{}),
		stopped:  make(chan struct{}),
	}
}

// Ready is closed once the rooms stand as they stood when the last run ended.
func (h *Hub) Ready() <-chan struct{} { return h.ready }

// Turns rises with every tick of the hub: as long as it does, the rooms are
// looked after.
func (h *Hub) Turns() uint64 { return h.turns.Load() }

// Run brings the rooms up from the store and the journal and runs them until
// ctx ends.
func (h *Hub) Run(ctx context.Context) error {
	defer close(h.stopped)
	changes := h.opt.Journal.Watch(ctx)
	if err := h.restore(ctx); err != nil {
		return fmt.Errorf("bring the rooms up: %w", err)
	}
	close(h.ready)
	written := make(chan struct{})
	go func() {
		defer close(written)
		h.writer.run(ctx)
	}()
	defer func() { <-written }()
	return h.loop(ctx, changes)
}

func (h *Hub) loop(ctx context.Context, changes <-chan struct{}) error {
	tick := time.NewTicker(h.opt.Tick)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case a := <-h.arrivals:
			h.arrivedAll(ctx, h.behind(a))
		case <-tick.C:
			h.tick(ctx)
		case _, open := <-changes:
			if !open {
				changes = nil // the journal stops because ctx has ended
				continue
			}
			h.journalChanged(ctx)
		case s := <-h.seen:
			s.answer <- h.see(ctx, s)
		case answer := <-h.pulse:
			answer <- h.pulseNow()
		case answer := <-h.asks:
			answer <- h.snapshots()
		}
	}
}

// Deliver hands over rounds that arrived. Where too many wait already it waits a
// little for them to be stored; then they are dropped unacknowledged, and the
// node sends them again.
func (h *Hub) Deliver(d telemetry.Delivery) {
	if !h.slots.take(h.writer.failing()) {
		h.opt.Log.Warn("too many rounds at once, their node will send them again", "room", d.Room, "node", d.Node, "rounds", len(d.Rounds))
		return
	}
	held, free := h.slots.hold(d)
	select {
	case h.arrivals <- arrival{delivery: held, drop: free}:
	case <-h.stopped:
	}
}

// deliver steps the room through the rounds and has them stored; it is queued
// where more for that room is right behind it. Where their room cannot be brought
// up they are stored all the same.
func (h *Hub) deliver(ctx context.Context, a arrival, queued bool) {
	d := a.delivery
	if !h.opt.Owns(d.Room) {
		a.drop()
		return // it is another hub's to store, or comes again once it is ours
	}
	if err := h.open(ctx, shop.Room{ID: d.Room, Title: d.Room}); err != nil {
		if ctx.Err() == nil {
			h.opt.Log.Error("bring up a room", "room", d.Room, "error", err)
		}
		h.offer(d, a.drop)
		return
	}
	arrived := make([]room.Arrived, len(d.Rounds))
	kept := d
	kept.Rounds = make([]sensors.Round, len(d.Rounds))
	for i, round := range d.Rounds {
		arrived[i] = room.Arrived{At: h.opt.Now(), Round: round}
		kept.Rounds[i] = h.rooms[d.Room].Kept(arrived[i])
	}
	done := new(atomic.Bool)
	kept.Stored = func() { done.Store(true); d.Stored() }
	if !h.offer(kept, a.drop) {
		return
	}
	for i, e := range arrived {
		h.rooms[d.Room].remember(stored{e.At.Mono, kept.Rounds[i], done})
		e.Round = h.corrected(d.Room, e.Round) // the store keeps it raw
		if queued {
			h.step(ctx, d.Room, room.Queued{Arrived: e})
			continue
		}
		h.step(ctx, d.Room, e)
	}
}

func (h *Hub) offer(d telemetry.Delivery, drop func()) bool {
	ok := h.writer.offer(d)
	if !ok {
		drop()
		h.opt.Log.Warn("the store is behind, the node will send its rounds again", "room", d.Room, "node", d.Node, "rounds", len(d.Rounds))
	}
	return ok
}

func (h *Hub) tick(ctx context.Context) {
	h.turns.Add(1)
	h.decide(ctx, nil)
	h.study(ctx)
	h.wishes(ctx)
	h.watchHouse(ctx)
	h.keepOwn(ctx)
	for name, r := range h.rooms {
		if r.partial {
			h.recallAgain(ctx, name)
		}
		now := h.opt.Now()
		r.forgetUntil(now.Mono - recently)
		h.step(ctx, name, room.Tick{At: now})
	}
}

// step steps one room and carries out what follows.
func (h *Hub) step(ctx context.Context, name string, e room.Event) {
	h.carryOut(ctx, name, h.rooms[name].Step(e))
}

func (h *Hub) carryOut(ctx context.Context, name string, effects []room.Effect) {
	for _, effect := range effects {
		switch effect := effect.(type) {
		case room.Notify:
			h.decide(ctx, effect.Transitions)
		case room.Show:
			h.rooms[name].stale = true
			h.watchers.tell()
		case room.Reload:
			h.recallAgain(ctx, name)
		}
	}
}

// Snapshots returns every room as it is now, in order of title. It is empty
// once the hub has stopped.
func (h *Hub) Snapshots() []room.Snapshot {
	answer := make(chan []room.Snapshot, 1)
	select {
	case h.asks <- answer:
		return <-answer
	case <-h.stopped:
		return nil
	}
}

func (h *Hub) snapshots() []room.Snapshot {
	all := make([]room.Snapshot, 0, len(h.rooms))
	for _, r := range h.rooms {
		if r.stale {
			r.snapshot, r.stale = r.Snapshot(), false
		}
		all = append(all, r.snapshot)
	}
	sort.Slice(all, func(i, j int) bool {
		return cmp.Or(cmp.Compare(all[i].Title, all[j].Title), cmp.Compare(all[i].Room, all[j].Room)) < 0
	})
	return all
}

// Watch ticks when a snapshot has changed, at most one tick waiting, until ctx
// ends.
func (h *Hub) Watch(ctx context.Context) <-chan struct{} { return h.watchers.watch(ctx) }
