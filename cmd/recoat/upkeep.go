package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"recoat/internal/access"
	"recoat/internal/shop"
	"recoat/internal/sqldb"
	"recoat/internal/store"
	"recoat/internal/store/influx"
	"recoat/internal/store/sqlite"
	"recoat/internal/upkeep"
)

// How long things are kept. What a coat's record may need of the air about it
// is kept for ever, as are rollups.
const (
	keepReadings = influx.Retention
	keepAlerts   = 400 * 24 * time.Hour
	packAfter    = 24 * time.Hour
	beforeCoat   = 24 * time.Hour
	afterCoat    = 60 * 24 * time.Hour // the longest that the hub follows one
)

// accountsThen is what to see to after the accounts were mended. A fresh book
// lets nobody in but by the code that the start shows.
const accountsThen = "Accounts, passwords and nodes are as that backup has them, removed ones too, and everyone logs in anew: see who may come in with recoat people list and recoat node list. Without a backup the code that recoat shows at its start makes a new owner, and each node elsewhere needs recoat node add."

// keeper cares for a hub's files in f, and for the accounts, which are the
// machine's, whether its room is simulated or not.
func (d dataConfig) keeper(f folder) upkeep.Keeper {
	k := f.keeper()
	book := upkeep.File{Path: d.accounts(), What: "accounts", Then: accountsThen, Settle: access.EndSessions}
	for _, other := range []folder{folder(d.Folder), simulatedIn(d.Folder), playedIn(d.Folder)} {
		if other != f {
			book.Beside = append(book.Beside, string(other))
		}
	}
	k.Files = append(k.Files, book)
	return k
}

// keeper cares for the files of a hub or a node in f.
func (f folder) keeper() upkeep.Keeper {
	return upkeep.Keeper{Folder: string(f), Files: []upkeep.File{
		{Path: f.readings(), What: "readings", Check: checkReadings},
		{Path: f.journal(), What: "journal"},
		{Path: f.outbox(), What: "alerts"},
		{Path: f.seals(), What: "seals"},
		{Path: f.spool(), What: "readings on their way", Passing: true},
		{Path: f.influxQueue(), What: "readings on their way to InfluxDB", Passing: true},
	}}
}

// checkReadings also unpacks what is packed.
func checkReadings(ctx context.Context, path string) error {
	if err := sqldb.Check(ctx, path); err != nil {
		return err
	}
	s, err := sqlite.Open(ctx, path)
	if err == nil {
		err = errors.Join(s.Check(ctx), s.Close())
	}
	if errors.Is(err, store.ErrDamaged) {
		return fmt.Errorf("%w: %w", sqldb.ErrDamaged, err)
	}
	return err
}

// mend looks at the files that a keeper cares for, before they are opened.
func mend(ctx context.Context, k upkeep.Keeper, tell func(string)) error {
	mended, err := k.Mend(ctx, time.Now())
	for _, m := range mended {
		tell(m.Sentence(time.Local))
	}
	return err
}

// upkeep adds the work of the night to the parts.
func (h *house) upkeep() {
	keeper := h.cfg.Data.keeper(h.folder)
	h.nightly = &upkeep.Nightly{Location: time.Local, Now: time.Now, Log: h.log, Jobs: []upkeep.Job{
		{What: "thin the readings", Do: h.thin},
		{What: "prune the alerts", Do: func(ctx context.Context, now time.Time) error {
			_, err := h.outbox.Prune(ctx, now.Add(-keepAlerts))
			return err
		}},
		{What: "back up", Do: keeper.Backup},
	}}
	h.parts.add("upkeep", h.nightly.Run)
}

// thin packs and thins the readings where they are in a file. A server keeps to
// what its buckets say.
func (h *house) thin(ctx context.Context, now time.Time) error {
	file, ok := h.store.(*sqlite.Store)
	if !ok {
		return nil
	}
	if err := file.Pack(ctx, now.Add(-packAfter)); err != nil {
		return err
	}
	coats, err := h.journal.Coats(ctx, shop.CoatFilter{Undone: true})
	if err != nil {
		return err
	}
	var keep []sqlite.Span
	for _, c := range coats {
		stays, err := h.journal.Stays(ctx, c)
		if err != nil {
			return err
		}
		keep = append(keep, evidence(c, stays)...)
	}
	_, err = file.Thin(ctx, now.Add(-keepReadings), keep)
	return err
}

// evidence is the air that the record of a coat may need: of each room that its
// part was in, for as long as it was, and of the first from before the coat on.
func evidence(c shop.Coat, stays []shop.Stay) []sqlite.Span {
	var all []sqlite.Span
	end := c.Applied.Add(afterCoat)
	for i, s := range stays {
		span := sqlite.Span{Room: s.Room, From: s.From, To: end}
		if i == 0 {
			span.From = c.Applied.Add(-beforeCoat)
		}
		if i+1 < len(stays) && stays[i+1].From.Before(end) {
			span.To = stays[i+1].From
		}
		if s.Room != "" && span.From.Before(span.To) {
			all = append(all, span)
		}
	}
	return all
}

// notices are what every page says of the files, and of hubs that ask for one room.
func (h *house) notices() []string {
	var all []string
	notes, err := h.cfg.Data.keeper(h.folder).Notes(time.Now())
	if err != nil {
		h.log.Error("read what was mended", "error", err)
	}
	for _, m := range notes {
		all = append(all, m.Sentence(time.Local))
	}
	if f := h.nightly.Failed(); f != nil {
		all = append(all, fmt.Sprintf("Last night's upkeep failed at %s: no new backup was made. The log says why.", f.What))
	}
	if h.claimant != nil {
		all = append(all, h.claimant.Troubles()...)
	}
	return all
}
