package hub

import (
	"context"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// lookBack is how much history a room is brought up with, and longestFollowed
// how much a coat that is not cured can make it.
const (
	lookBack        = 21 * 24 * time.Hour
	longestFollowed = 60 * 24 * time.Hour
)

// restore opens the rooms as they stood.
func (h *Hub) restore(ctx context.Context) error {
	if err := h.route(ctx); err != nil {
		return err
	}
	if err := h.openHouse(ctx); err != nil {
		return err
	}
	if err := h.recalibrate(ctx); err != nil {
		return err
	}
	if err := h.relearn(ctx); err != nil {
		h.opt.Log.Error("learn from touch tests", "error", err) // the label's times stand
	}
	if err := h.openKnown(ctx); err != nil {
		return err
	}
	h.wishes(ctx)
	return h.bringBare(ctx)
}

// openKnown opens the hub's own rooms that the journal or the store knows of.
func (h *Hub) openKnown(ctx context.Context) error {
	if err := h.openJournalled(ctx); err != nil {
		return err
	}
	extents, err := h.opt.Readings.Extents(ctx)
	if err != nil {
		return err
	}
	for _, e := range extents {
		if err := h.open(ctx, shop.Room{ID: e.Room, Title: e.Room}); err != nil {
			return err
		}
	}
	return nil
}

// openJournalled opens the journal's rooms, and names those that were opened
// for their readings before the journal knew of them.
func (h *Hub) openJournalled(ctx context.Context) error {
	rooms, err := h.opt.Journal.Rooms(ctx)
	if err != nil {
		return err
	}
	for _, r := range rooms {
		if err := h.open(ctx, r); err != nil {
			return err
		}
		if o := h.rooms[r.ID]; o != nil && (o.title != r.Title || o.limits != limits(r)) {
			o.title, o.limits = r.Title, limits(r)
			h.step(ctx, r.ID, room.Described{Title: o.title, Limits: o.limits})
		}
	}
	return nil
}

func limits(r shop.Room) drying.Limits {
	if r.Limits == nil {
		return drying.Limits{}
	}
	return *r.Limits
}

// open brings one of the hub's own rooms up: what was told, its history, its coats. One that
// could not be brought up whole is brought up anew when it is next asked for.
func (h *Hub) open(ctx context.Context, r shop.Room) error {
	if h.rooms[r.ID] != nil || !h.opt.Owns(r.ID) {
		return nil
	}
	episodes, err := h.opt.Decisions.Episodes(ctx, 0)
	if err != nil {
		return err
	}
	episodes = slices.DeleteFunc(episodes, func(e alert.Episode) bool { return e.Key.Room != r.ID })
	h.rooms[r.ID] = &owned{title: r.Title, limits: limits(r), stale: true, Room: room.New(room.Config{
		Room: r.ID, Title: r.Title, SilentAfter: h.opt.SilentAfter, Location: h.opt.Location, Limits: limits(r), Book: h.opt.Book, Fahrenheit: h.opt.Fahrenheit,
		Engine: alert.NewEngine(alert.EngineConfig{NewID: h.opt.NewID, Resume: episodes}),
	})}
	coats, err := h.opt.Journal.OpenCoats(ctx, r.ID)
	if err == nil {
		h.follow(ctx, r.ID, coats)
		err = h.recall(ctx, r.ID, coats)
	}
	if err != nil {
		delete(h.rooms, r.ID)
		return err
	}
	h.step(ctx, r.ID, room.Tick{At: h.opt.Now()})
	return nil
}

func (h *Hub) journalChanged(ctx context.Context) {
	if ctx.Err() != nil {
		return
	}
	if err := h.recalibrate(ctx); err != nil {
		h.opt.Log.Error("read the checks of the sensors", "error", err)
	}
	if err := h.relearn(ctx); err != nil {
		h.opt.Log.Error("learn from touch tests", "error", err)
	}
	if err := h.openJournalled(ctx); err != nil {
		h.opt.Log.Error("bring up the journal's rooms", "error", err)
	}
	for id := range h.rooms {
		if err := h.reloadJobs(ctx, id); err != nil {
			h.opt.Log.Error("read a room's coats", "room", id, "error", err)
		}
	}
	if err := h.bringBare(ctx); err != nil {
		h.opt.Log.Error("read the parts that wait for a coat", "error", err)
	}
}

// reloadJobs has a room follow the journal's coats. One that is older than the
// room's history brings the history with it.
func (h *Hub) reloadJobs(ctx context.Context, id string) error {
	coats, err := h.opt.Journal.OpenCoats(ctx, id)
	if err != nil {
		return err
	}
	now := h.opt.Now().Wall
	older := reach(coats, now).Before(reach(h.rooms[id].coats, now))
	h.follow(ctx, id, coats)
	if older {
		h.recallAgain(ctx, id)
		h.step(ctx, id, room.Tick{At: h.opt.Now()})
	}
	return nil
}

func (h *Hub) follow(ctx context.Context, id string, coats []shop.Coat) {
	h.rooms[id].coats = coats
	h.step(ctx, id, room.JobsChanged{Jobs: h.jobs(ctx, coats, h.opt.Now().Wall)})
}

// reach is how far back a room's history has to go for its coats.
func reach(coats []shop.Coat, now time.Time) time.Time {
	from := now.Add(-lookBack)
	for _, c := range coats {
		if followed(c, now) {
			from = earlier(from, c.Applied.Truncate(time.Minute))
		}
	}
	return from
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// recall reads a room's history from the store, from the oldest coat that is
// followed, and adds what may not have reached the store yet.
func (h *Hub) recall(ctx context.Context, id string, coats []shop.Coat) error {
	now := h.opt.Now().Wall
	r := h.rooms[id]
	r.partial = true
	r.Forget()
	inHand := r.newest()
	// A round may be a little ahead of the hub's clock.
	q := store.Query{Room: id, From: reach(coats, now), To: now.Add(time.Hour)}
	err := h.opt.Readings.Rounds(ctx, q, func(round sensors.Round) error {
		if _, newer := inHand[identityOf(round)]; !newer || round.Boot == "" {
			r.Step(room.Recalled{Round: round})
		}
		return nil
	})
	for _, round := range inHand {
		r.Step(room.Recalled{Round: h.corrected(id, round)})
	}
	r.partial = err != nil
	return err
}

// recallAgain reads a room's history anew; where that fails, the next tick tries
// again.
func (h *Hub) recallAgain(ctx context.Context, id string) {
	if err := h.recall(ctx, id, h.rooms[id].coats); err != nil && ctx.Err() == nil {
		h.opt.Log.Error("read a room's history again, will try once more", "room", id, "error", err)
	}
}
