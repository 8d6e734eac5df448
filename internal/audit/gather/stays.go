package gather

import (
	"context"
	"time"

	"recoat/internal/audit"
	"recoat/internal/store"
)

// placed finds where the part was, from the beginning of the scope on. Before the
// coat that is where the coat below knows it to have been, or else where this one
// was put on.
func (g Gatherer) placed(ctx context.Context, e *audit.Evidence, s *scope) error {
	since, err := g.Places.Stays(ctx, s.coat)
	if err != nil {
		return err
	}
	for _, m := range since[1:] {
		if m.From.Before(s.to) {
			e.Moves = append(e.Moves, audit.Move{At: m.From, RoomID: m.Room, Probe: m.Probe})
		}
	}
	if s.below == nil || s.coat.Applied.Sub(s.below.Applied) > longest {
		since[0].From = s.from
		s.stays = since
		return nil
	}
	before, err := g.Places.Stays(ctx, *s.below)
	if err != nil {
		return err
	}
	before[0].From = s.from
	for _, b := range before {
		if b.From.Before(s.coat.Applied) {
			s.stays = append(s.stays, b)
		}
	}
	s.stays = append(s.stays, since...)
	return nil
}

// spans are the stays as questions to the store, each as long as it lasted
// within the scope.
func (s *scope) spans() []store.Query {
	all := make([]store.Query, len(s.stays))
	for i, stay := range s.stays {
		all[i] = store.Query{Room: stay.Room, From: stay.From, To: s.to}
		if i+1 < len(s.stays) && s.stays[i+1].From.Before(s.to) {
			all[i].To = s.stays[i+1].From
		}
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
