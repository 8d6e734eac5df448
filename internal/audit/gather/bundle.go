package gather

import (
	"context"
	"fmt"
	"time"

	"recoat/internal/audit"
	"recoat/internal/seal"
	"recoat/internal/store"
	"recoat/sensors"
)

// Bundle is a document with the evidence that its drawings are made of.
type Bundle struct {
	Document audit.Document
	Evidence []*audit.Evidence // one for each coat of the document
	// Rounds calls each with the raw rounds behind the document, and each of
	// their readings corrected, in order of room and time.
	Rounds func(ctx context.Context, each func(room string, raw, corrected sensors.Round) error) error
}

func (g Gatherer) bundle(ctx context.Context, title string, coats []string, made time.Time) (Bundle, error) {
	b := Bundle{Document: audit.Document{
		Format: audit.FormatName, Schema: 1, Title: title, Made: made.UTC().Round(time.Second), Zone: made.In(g.Location).Format("-07:00"),
		Coats: []audit.Record{}, Seals: []seal.Seal{},
	}}
	var spans []store.Query
	for _, id := range coats {
		e, s, err := g.coat(ctx, id, made)
		if err != nil {
			return b, err
		}
		b.Evidence = append(b.Evidence, e)
		b.Document.Coats = append(b.Document.Coats, audit.Build(e))
		for _, q := range s.spans() {
			if q.Room != "" && q.From.Before(q.To) {
				spans = join(spans, q)
			}
		}
	}
	if err := g.seal(ctx, &b.Document, spans); err != nil {
		return b, err
	}
	book, _, err := g.book(ctx)
	if err != nil {
		return b, err
	}
	b.Rounds = func(ctx context.Context, each func(room string, raw, corrected sensors.Round) error) error {
		for _, q := range spans {
			err := g.Readings.Rounds(ctx, q, func(r sensors.Round) error { return each(q.Room, r, book.Correct(q.Room, r)) })
			if err != nil {
				return err
			}
		}
		return nil
	}
	h := audit.NewEvidenceHash()
	if err := b.Rounds(ctx, func(room string, raw, corrected sensors.Round) error { return h.Add(room, raw, corrected) }); err != nil {
		return b, err
	}
	b.Document.Evidence = h.Sum()
	b.Document.Digest, err = b.Document.Reckon()
	return b, err
}

// join adds a span, into one of the same room that it touches where there is
// one.
func join(all []store.Query, q store.Query) []store.Query {
	for i, o := range all {
		if o.Room == q.Room && !q.From.After(o.To) && !o.From.After(q.To) {
			if q.From.Before(o.From) {
				all[i].From = q.From
			}
			if q.To.After(o.To) {
				all[i].To = q.To
			}
			return all
		}
	}
	return append(all, q)
}

// seal has the days of the document and the journal sealed, and takes their
// seals into it. Without a sealer it says so.
func (g Gatherer) seal(ctx context.Context, d *audit.Document, spans []store.Query) error {
	if g.Sealer == nil {
		d.Sealing = "no seals were at hand"
		return nil
	}
	if err := g.Sealer.Due(ctx); err != nil {
		return fmt.Errorf("seal the days of the record: %w", err)
	}
	for _, q := range spans {
		today := seal.DayOf(g.Sealer.Now())
		if seal.DayOf(q.To) >= today {
			if _, err := g.Sealer.Day(ctx, q.Room, today); err != nil {
				return err
			}
		}
		newest, err := g.Sealer.Log.Newest(ctx, q.Room)
		if err != nil {
			return err
		}
		for _, s := range newest {
			if s.Day >= seal.DayOf(q.From) && s.Day <= seal.DayOf(q.To) {
				d.Seals = append(d.Seals, s)
			}
		}
	}
	s, err := g.Sealer.SealJournal(ctx)
	if err != nil {
		return err
	}
	d.Seals = append(d.Seals, s)
	return nil
}
