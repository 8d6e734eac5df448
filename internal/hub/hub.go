// Package hub runs the rooms: one goroutine owns them all, takes what nodes
// and people say, and hands the effects to the store, the alerts and the pages
// over bounded channels.
package hub

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/internal/telemetry"
	"recoat/sensors"
)

// Journal is what the hub asks of the journal.
type Journal interface {
	Rooms(ctx context.Context) ([]shop.Room, error)
	OpenCoats(ctx context.Context, room string) ([]shop.Coat, error)
	Watch(ctx context.Context) <-chan struct{} // ticks after each change
}

// Decisions is where the hub records what it decided to tell.
type Decisions interface {
	Episodes(ctx context.Context, limit int32) ([]alert.Episode, error)
	Commit(ctx context.Context, transitions []alert.Transition, messages []alert.Message) error
}

// Options are what a hub is made of.
type Options struct {
	Readings    store.Readings
	Journal     Journal
	Decisions   Decisions
	Channels    []string // names of the channels to the phone
	NewID       func() string
	Now         func() alert.Instant
	Tick        time.Duration // how often time is an event; 0: five seconds
	Batch       time.Duration // how long rounds gather before one commit; 0: two seconds
	SilentAfter time.Duration
	Location    *time.Location
	Log         *slog.Logger
}

// Hub owns the rooms. Its methods may be called from any goroutine while Run
// runs.
type Hub struct {
	opt        Options
	rooms      map[string]*owned
	undecided  decisions // not recorded yet, oldest first
	writer     *writer
	deliveries chan telemetry.Delivery
	asks       chan chan []room.Snapshot
	seen       chan string
	watchers   watchers
	ready      chan struct{}
	stopped    chan struct{}
}

// owned is a room and its last snapshot.
type owned struct {
	*room.Room
	snapshot room.Snapshot
	stale    bool
	recent   []room.Arrived // not surely in the store yet, oldest first
}

// recently is how long a round is kept in hand for a recall: longer than any
// commit takes.
const recently = 5 * time.Minute

// queue bounds what waits for the hub. A delivery beyond it is dropped without
// acknowledgement, so that its node sends it again.
const queue = 256

// New returns a hub that does nothing until Run.
func New(opt Options) *Hub {
	opt.Tick = cmp.Or(opt.Tick, 5*time.Second)
	opt.Batch = cmp.Or(opt.Batch, 2*time.Second)
	return &Hub{
		opt:        opt,
		rooms:      map[string]*owned{},
		writer:     newWriter(opt.Readings, opt.Batch, opt.Log),
		deliveries: make(chan telemetry.Delivery, queue),
		asks:       make(chan chan []room.Snapshot),
		seen:       make(chan string, queue),
		ready:      make(chan struct{}),
		stopped:    make(chan struct{}),
	}
}

// Ready is closed once the rooms stand as they stood when the last run ended.
func (h *Hub) Ready() <-chan struct{} { return h.ready }

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
		case d := <-h.deliveries:
			h.deliver(ctx, d)
		case <-tick.C:
			h.tick(ctx)
		case _, open := <-changes:
			if !open {
				changes = nil // the journal stops because ctx has ended
				continue
			}
			h.journalChanged(ctx)
		case id := <-h.seen:
			for name := range h.rooms {
				h.step(ctx, name, room.Seen{At: h.opt.Now(), Episode: id})
			}
		case answer := <-h.asks:
			answer <- h.snapshots()
		}
	}
}

// Deliver hands over rounds that arrived. It never blocks: what finds no room
// is dropped unacknowledged, and the node sends it again.
func (h *Hub) Deliver(d telemetry.Delivery) {
	select {
	case h.deliveries <- d:
	default:
		h.opt.Log.Warn("too many rounds at once, their node will send them again", "room", d.Room, "node", d.Node, "rounds", len(d.Rounds))
	}
}

func (h *Hub) deliver(ctx context.Context, d telemetry.Delivery) {
	if !h.writer.offer(d) {
		h.opt.Log.Warn("the store is behind, the node will send its rounds again", "room", d.Room, "node", d.Node, "rounds", len(d.Rounds))
		return
	}
	if err := h.open(ctx, shop.Room{ID: d.Room, Title: d.Room}); err != nil {
		h.opt.Log.Error("bring up a room", "room", d.Room, "error", err)
		return
	}
	r := h.rooms[d.Room]
	for _, round := range d.Rounds {
		e := room.Arrived{At: h.opt.Now(), Round: round}
		r.recent = append(r.recent, e)
		h.step(ctx, d.Room, e)
	}
}

func (h *Hub) tick(ctx context.Context) {
	h.decide(ctx, nil)
	for name, r := range h.rooms {
		now := h.opt.Now()
		r.recent = slices.DeleteFunc(r.recent, func(e room.Arrived) bool { return now.Mono-e.At.Mono > recently })
		h.step(ctx, name, room.Tick{At: now})
	}
}

// step steps one room and carries out what follows.
func (h *Hub) step(ctx context.Context, name string, e room.Event) {
	for _, effect := range h.rooms[name].Step(e) {
		switch effect := effect.(type) {
		case room.Notify:
			h.decide(ctx, effect.Transitions)
		case room.Show:
			h.rooms[name].stale = true
			h.watchers.tell()
		case room.Reload:
			if err := h.recall(ctx, name); err != nil {
				h.opt.Log.Error("read a room's history again", "room", name, "error", err)
			}
		}
	}
}

// Acknowledge notes that a person has seen an alert.
func (h *Hub) Acknowledge(episode string) {
	select {
	case h.seen <- episode:
	case <-h.stopped:
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
	slices.SortFunc(all, func(a, b room.Snapshot) int {
		return cmp.Or(cmp.Compare(a.Title, b.Title), cmp.Compare(a.Room, b.Room))
	})
	return all
}

// Watch ticks when a snapshot has changed, at most one tick waiting, until ctx
// ends.
func (h *Hub) Watch(ctx context.Context) <-chan struct{} { return h.watchers.watch(ctx) }

// lookBack is how much history a room is brought up with, and longestFollowed
// how much a coat that is not cured can make it.
const (
	lookBack        = 8 * 24 * time.Hour
	longestFollowed = 60 * 24 * time.Hour
)

// restore opens every room that the journal or the store knows of.
func (h *Hub) restore(ctx context.Context) error {
	if err := h.openJournalled(ctx); err != nil {
		return err
	}
	extents, err := h.opt.Readings.Extents(ctx)
	if err != nil {
		return err
	}
	for _, e := range extents {
		if err := h.open(ctx, shop.Room{ID: e.Series.Room, Title: e.Series.Room}); err != nil {
			return err
		}
	}
	return nil
}

func (h *Hub) openJournalled(ctx context.Context) error {
	rooms, err := h.opt.Journal.Rooms(ctx)
	if err != nil {
		return err
	}
	for _, r := range rooms {
		if err := h.open(ctx, r); err != nil {
			return err
		}
	}
	return nil
}

// open brings a room up: what was told, its history, its coats.
func (h *Hub) open(ctx context.Context, r shop.Room) error {
	id := r.ID
	if h.rooms[id] != nil {
		return nil
	}
	episodes, err := h.opt.Decisions.Episodes(ctx, 0)
	if err != nil {
		return err
	}
	episodes = slices.DeleteFunc(episodes, func(e alert.Episode) bool { return e.Key.Room != id })
	cfg := room.Config{
		Room: id, Title: r.Title, SilentAfter: h.opt.SilentAfter, Location: h.opt.Location,
		Engine: alert.NewEngine(alert.EngineConfig{NewID: h.opt.NewID, Resume: episodes}),
	}
	if r.Limits != nil {
		cfg.Limits = *r.Limits
	}
	h.rooms[id] = &owned{stale: true, Room: room.New(cfg)}
	if err := h.reloadJobs(ctx, id); err != nil {
		return err
	}
	if err := h.recall(ctx, id); err != nil {
		return err
	}
	h.step(ctx, id, room.Tick{At: h.opt.Now()})
	return nil
}

func (h *Hub) journalChanged(ctx context.Context) {
	if err := h.openJournalled(ctx); err != nil {
		h.opt.Log.Error("bring up the journal's rooms", "error", err)
	}
	for id := range h.rooms {
		if err := h.reloadJobs(ctx, id); err != nil {
			h.opt.Log.Error("read a room's coats", "room", id, "error", err)
		}
	}
}

func (h *Hub) reloadJobs(ctx context.Context, id string) error {
	coats, err := h.opt.Journal.OpenCoats(ctx, id)
	if err != nil {
		return err
	}
	h.step(ctx, id, room.JobsChanged{Jobs: jobs(coats, h.opt.Now().Wall)})
	return nil
}

// recall reads a room's history from the store, from the oldest coat that is
// still followed, and adds what may not have reached the store yet.
func (h *Hub) recall(ctx context.Context, id string) error {
	now := h.opt.Now().Wall
	from := now.Add(-lookBack)
	coats, err := h.opt.Journal.OpenCoats(ctx, id)
	if err != nil {
		return err
	}
	for _, c := range coats {
		if c.Applied.Before(from) && now.Sub(c.Applied) < longestFollowed {
			from = c.Applied.Truncate(time.Minute)
		}
	}
	r := h.rooms[id]
	r.Forget()
	// A round may be a little ahead of the hub's clock.
	q := store.Query{Room: id, From: from, To: now.Add(time.Hour)}
	err = h.opt.Readings.Rounds(ctx, q, func(round sensors.Round) error {
		r.Step(room.Recalled{Round: round})
		return nil
	})
	for _, e := range r.recent {
		r.Step(room.Recalled{Round: e.Round})
	}
	return err
}
