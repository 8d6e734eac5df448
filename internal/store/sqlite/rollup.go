package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// Rollups implements store.Readings.
func (s *Store) Rollups(ctx context.Context, of store.Series, width time.Duration, from, to time.Time) ([]store.Rollup, error) {
	const op = "read rollups"
	if err := store.CheckWidth(width); err != nil {
		return nil, fmt.Errorf("%s: %w", op, err)
	}
	if !from.Before(to) {
		return nil, nil
	}
	rows, err := s.db.Read.QueryContext(ctx, `SELECT start, good, other, coalesce(lo, 0), coalesce(hi, 0), sum FROM rollup
		WHERE width = ? AND start > ? AND start < ? AND series =
			(SELECT s.id FROM series s JOIN node n ON n.id = s.node WHERE n.room = ? AND n.name = ? AND s.channel = ?)
		ORDER BY start`,
		minutes(width), from.UnixMilli()-width.Milliseconds(), ceilMilli(to), of.Room, of.Node, of.Channel.String())
	if err != nil {
		return nil, explain(ctx, op, err)
	}
	rollups, err := collect(rows, func(row scanner) (store.Rollup, error) {
		var start int64
		var t store.Tally
		err := row.Scan(&start, &t.Good, &t.Other, &t.Min, &t.Max, &t.Sum)
		return t.Rollup(time.UnixMilli(start).UTC(), of.Channel.Quantity), err
	})
	return rollups, explain(ctx, op, err)
}

// Extents implements store.Readings. The rollups tell the first and the last
// hour of each series, and the rounds of those hours the instant.
func (s *Store) Extents(ctx context.Context) ([]store.Extent, error) {
	const op = "list the series"
	var extents []store.Extent
	err := s.snapshot(ctx, func(tx *sql.Tx) error {
		hours, err := findHours(ctx, tx)
		if err != nil {
			return err
		}
		e := edges{ctx: ctx, tx: tx, hours: map[store.Query]map[sensors.Channel]store.Extent{}}
		for _, h := range hours {
			first, err := e.find(h.Series, h.First)
			if err != nil {
				return err
			}
			last, err := e.find(h.Series, h.Last)
			if err != nil {
				return err
			}
			extents = append(extents, store.Extent{Series: h.Series, First: first.First, Last: last.Last})
		}
		return nil
	})
	slices.SortFunc(extents, store.CompareExtents)
	return extents, explain(ctx, op, err)
}

// findHours returns the series with the starts of their first and last hour.
func findHours(ctx context.Context, tx *sql.Tx) ([]store.Extent, error) {
	rows, err := tx.QueryContext(ctx, `SELECT n.room, n.name, s.channel, min(r.start), max(r.start)
		FROM rollup r JOIN series s ON s.id = r.series JOIN node n ON n.id = s.node WHERE r.width = ? GROUP BY r.series`, minutes(time.Hour))
	if err != nil {
		return nil, err
	}
	return collect(rows, func(row scanner) (x store.Extent, err error) {
		var channel string
		var first, last int64
		if err := row.Scan(&x.Room, &x.Node, &channel, &first, &last); err != nil {
			return x, err
		}
		x.First, x.Last = time.UnixMilli(first), time.UnixMilli(last)
		if x.Channel, err = sensors.ParseChannel(channel); err != nil {
			return x, fmt.Errorf("%w: a series: %w", store.ErrDamaged, err)
		}
		return x, nil
	})
}

// edges reads hours of rounds, each hour of a node once for all its channels.
type edges struct {
	ctx   context.Context
	tx    *sql.Tx
	hours map[store.Query]map[sensors.Channel]store.Extent
}

// find returns the extent of s within the hour that begins at start.
func (e edges) find(s store.Series, start time.Time) (store.Extent, error) {
	q := store.Query{Room: s.Room, Node: s.Node, From: start, To: start.Add(time.Hour)}
	if e.hours[q] == nil {
		hour := map[sensors.Channel]store.Extent{}
		err := scan(e.ctx, e.tx, q, func(r sensors.Round) error {
			for _, x := range r.Readings {
				hour[x.Channel] = hour[x.Channel].With(s, r.Time)
			}
			return nil
		})
		if err != nil {
			return store.Extent{}, err
		}
		e.hours[q] = hour
	}
	found, ok := e.hours[q][s.Channel]
	if !ok && len(e.hours[q]) == 0 { // the rounds of the hour were let go of
		return store.Extent{Series: s, First: start.UTC(), Last: start.UTC()}, nil
	}
	if !ok {
		return found, fmt.Errorf("%w: the hour from %s of %s %s has a rollup of %v but no reading", store.ErrDamaged, start.UTC().Format(time.RFC3339), s.Room, s.Node, s.Channel)
	}
	return found, nil
}
