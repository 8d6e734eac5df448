// Package gather reads the evidence of a coat from the store, the journal, the
// outbox and the seals.
package gather

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sort"
	"time"

	"recoat/internal/alert"
	"recoat/internal/audit"
	"recoat/internal/seal"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
	"recoat/internal/store"
	"recoat/sensors/calibration"
)

// Journal is what is asked of the journal.
type Journal interface {
	Coat(ctx context.Context, id string) (shop.Coat, error)
	Coats(ctx context.Context, f shop.CoatFilter) ([]shop.Coat, error)
	Touches(ctx context.Context, coat string) ([]shop.Touch, error)
	Defects(ctx context.Context, coat string) ([]shop.Defect, error)
	Calibrations(ctx context.Context) ([]shop.Calibration, error)
}

// Places says where the part of a coat has been since it was put on.
type Places interface {
	Stays(ctx context.Context, c shop.Coat) ([]shop.Stay, error)
}

// Workshop is what else the journal knows of the work.
type Workshop interface {
	Rooms(ctx context.Context) ([]shop.Room, error)
	Piece(ctx context.Context, id string) (shop.Piece, error)
	Schedules(ctx context.Context, piece string) ([]schedule.Part, error)
	Moistures(ctx context.Context, piece string) ([]shop.Moisture, error)
	Changes(ctx context.Context, seq int64, each func(shop.Change) error) error
}

// Outbox is what was told.
type Outbox interface {
	Episodes(ctx context.Context, limit int32) ([]alert.Episode, error)
	Messages(ctx context.Context, limit int32) ([]alert.Message, error)
}

// Gatherer gathers evidence.
type Gatherer struct {
	Readings store.Readings // raw
	Journal  Journal
	Workshop Workshop
	Places   Places
	Outbox   Outbox       // nil: what was told is not known
	Sealer   *seal.Sealer // nil: documents have no seals
	Location *time.Location
}

// longest is how much of a cure is looked at, and of the time since the coat
// below.
const longest = 60 * 24 * time.Hour

// scope is what the evidence of one coat covers.
type scope struct {
	coat     shop.Coat
	below    *shop.Coat
	from, to time.Time
	stays    []shop.Stay // of the part, the first from before the coat on
}

// Coat gathers the evidence of one coat as it is at made, without its seals.
func (g Gatherer) Coat(ctx context.Context, id string, made time.Time) (*audit.Evidence, error) {
	e, _, err := g.coat(ctx, id, made)
	return e, err
}

func (g Gatherer) coat(ctx context.Context, id string, made time.Time) (*audit.Evidence, scope, error) {
	coat, err := g.Journal.Coat(ctx, id)
	if err != nil {
		return nil, scope{}, err
	}
	e := &audit.Evidence{Made: made, Coat: coat, Room: coat.Room}
	s := scope{coat: coat}
	if err := g.neighbours(ctx, e, &s); err != nil {
		return nil, s, err
	}
	for _, part := range []func(context.Context, *audit.Evidence, *scope) error{g.placed, g.told, g.prepared, g.changes, g.alerts, g.readings} {
		if err := part(ctx, e, &s); err != nil {
			return nil, s, fmt.Errorf("gather the evidence of %s: %w", id, err)
		}
	}
	return e, s, nil
}

// neighbours finds the coats under and over this one, and so the span of time.
func (g Gatherer) neighbours(ctx context.Context, e *audit.Evidence, s *scope) error {
	all, err := g.Journal.Coats(ctx, shop.CoatFilter{Part: s.coat.Part.ID})
	if err != nil {
		return err
	}
	for i := range all {
		switch c := &all[i]; {
		case c.ID == s.coat.ID:
		case c.Applied.Before(s.coat.Applied):
			e.Below = c
		case e.Above == nil:
			e.Above = c
		}
	}
	s.below = e.Below
	s.from, s.to = s.coat.Applied.Add(-24*time.Hour), e.Made
	if e.Below != nil && e.Below.Applied.Before(s.from) && s.coat.Applied.Sub(e.Below.Applied) <= longest {
		s.from = e.Below.Applied
	}
	if end := s.coat.Applied.Add(longest); s.to.After(end) {
		s.to = end
	}
	return nil
}

func (g Gatherer) told(ctx context.Context, e *audit.Evidence, s *scope) (err error) {
	if e.Touches, err = g.Journal.Touches(ctx, s.coat.ID); err != nil {
		return err
	}
	if e.Defects, err = g.Journal.Defects(ctx, s.coat.ID); err != nil {
		return err
	}
	moisture, err := g.Workshop.Moistures(ctx, s.coat.PieceID)
	if err != nil {
		return err
	}
	for _, m := range moisture {
		if m.Part == s.coat.Part.ID {
			e.Moisture = append(e.Moisture, m)
		}
	}
	rooms, err := g.Workshop.Rooms(ctx)
	titles := map[string]string{}
	for _, r := range rooms {
		titles[r.ID] = r.Title
	}
	e.Room = cmp.Or(titles[s.coat.Room], s.coat.Room)
	for i, m := range e.Moves {
		e.Moves[i].Room = cmp.Or(titles[m.RoomID], m.RoomID)
	}
	return err
}

// prepared finds the steps of the schedule that stand before the coat.
func (g Gatherer) prepared(ctx context.Context, e *audit.Evidence, s *scope) error {
	parts, err := g.Workshop.Schedules(ctx, s.coat.PieceID)
	if err != nil {
		return err
	}
	for _, p := range parts {
		if p.ID != s.coat.Part.ID {
			continue
		}
		for _, step := range p.Steps {
			if step.ID == s.coat.Step && s.coat.Step != 0 {
				break
			}
			mark := p.Marks[step.ID]
			if s.coat.Step == 0 && (mark.Done.IsZero() || mark.Done.After(s.coat.Applied)) {
				continue
			}
			e.Steps = append(e.Steps, audit.Step{Title: step.Title(), Done: mark.Done, Skipped: mark.Skipped})
		}
	}
	return nil
}

// changes finds what was edited of the coat since.
func (g Gatherer) changes(ctx context.Context, e *audit.Evidence, s *scope) error {
	return g.Workshop.Changes(ctx, 0, func(c shop.Change) error {
		if c.Subject == s.coat.ID && string(c.Before) != "null" {
			e.Edits = append(e.Edits, audit.Edit{At: c.At, Seq: c.Seq, What: c.What})
		}
		return nil
	})
}

// mostAlerts is how many of the newest episodes and messages are looked through.
const mostAlerts = 5000

// alerts finds what was told of the coat, and of its room while it dried.
func (g Gatherer) alerts(ctx context.Context, e *audit.Evidence, s *scope) error {
	if g.Outbox == nil {
		return nil
	}
	episodes, err := g.Outbox.Episodes(ctx, mostAlerts)
	if err != nil {
		return err
	}
	messages, err := g.Outbox.Messages(ctx, mostAlerts)
	if err != nil {
		return err
	}
	for _, x := range slices.Backward(episodes) {
		if !s.concerns(x) {
			continue
		}
		a := audit.Alert{Title: x.Title, Rule: x.Key.Rule, Severity: x.Severity.String(), State: x.State.String(), Since: x.Since, Ended: x.EndedAt}
		for _, m := range slices.Backward(messages) {
			if m.Episode == x.ID {
				a.Sent = append(a.Sent, audit.Sent{At: m.At, Channel: channelName(m.Channel), Status: m.Status.String(), Cause: m.Cause.String()})
			}
		}
		e.Alerts = append(e.Alerts, a)
	}
	sort.SliceStable(e.Alerts, func(i, j int) bool { return e.Alerts[i].Since.Before(e.Alerts[j].Since) })
	return nil
}

// Document makes the record of one coat.
func (g Gatherer) Document(ctx context.Context, coat string, made time.Time) (Bundle, error) {
	return g.bundle(ctx, "Coat "+coat, []string{coat}, made)
}

// Piece makes the record of a piece: that of each of its coats that hold.
func (g Gatherer) Piece(ctx context.Context, id string, made time.Time) (Bundle, error) {
	p, err := g.Workshop.Piece(ctx, id)
	if err != nil {
		return Bundle{}, err
	}
	coats, err := g.Journal.Coats(ctx, shop.CoatFilter{Piece: id})
	if err != nil {
		return Bundle{}, err
	}
	if len(coats) == 0 {
		return Bundle{}, &shop.InputError{Field: "the piece " + id, Problem: "has no coat yet, so there is no record of one"}
	}
	var ids []string
	for _, c := range coats {
		ids = append(ids, c.ID)
	}
	return g.bundle(ctx, p.Name+" ("+id+")", ids, made)
}

// book holds the checks that count.
func (g Gatherer) book(ctx context.Context) (*calibration.Book, []shop.Calibration, error) {
	all, err := g.Journal.Calibrations(ctx)
	book := &calibration.Book{}
	book.Replace(shop.ByRoom(all))
	return book, all, err
}
