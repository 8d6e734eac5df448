package influx

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"
	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"recoat/internal/store"
	"recoat/sensors"
)

// encodeTally writes version, good, other, min, max and sum.
func encodeTally(t store.Tally) string {
	return fmt.Sprintf("1 %d %d %d %d %d", t.Good, t.Other, t.Min, t.Max, t.Sum)
}

func decodeTally(data string) (t store.Tally, err error) {
	version := 0
	n, err := fmt.Sscanf(data, "%d %d %d %d %d %d", &version, &t.Good, &t.Other, &t.Min, &t.Max, &t.Sum)
	if n != 6 || err != nil || version != 1 || t.Good < 0 || t.Other < 0 || encodeTally(t) != data {
		return t, fmt.Errorf("%w: a rollup reads %q", store.ErrDamaged, data)
	}
	return t, nil
}

// bucketKey is one rollup of a node.
type bucketKey struct {
	width   time.Duration
	start   int64
	channel sensors.Channel
}

// settleAll draws up anew the rollups of every hour that changed.
func (s *Store) settleAll(ctx context.Context) error {
	hours, err := s.queue.dirty(ctx)
	if err != nil {
		return err
	}
	for _, h := range hours {
		if err := s.settleHour(ctx, h); err != nil {
			return fmt.Errorf("rollups of %s %s: %w", h.room, h.node, err)
		}
	}
	return nil
}

// settleHour counts an hour of a node and writes its rollups, empty ones where
// there was something and no longer is.
func (s *Store) settleHour(ctx context.Context, h hour) error {
	tallies, err := s.tally(ctx, h)
	if err != nil {
		return err
	}
	from := time.UnixMilli(h.start).UTC()
	err = s.rollupRows(ctx, s.rollupsOf(h.room, h.node, from, from.Add(time.Hour)), func(k bucketKey, _ store.Tally) {
		if tallies[k] == nil {
			tallies[k] = &store.Tally{}
		}
	})
	if err != nil {
		return err
	}
	points := make([]*write.Point, 0, len(tallies))
	for k, t := range tallies {
		points = append(points, rollupPoint(store.Series{Room: h.room, Node: h.node, Channel: k.channel}, k.width, k.start, *t))
	}
	if len(points) > 0 {
		if err := s.server.write(ctx, s.cfg.Rollups, points...); err != nil {
			return err
		}
	}
	return s.queue.clean(ctx, h)
}

func (s *Store) tally(ctx context.Context, h hour) (map[bucketKey]*store.Tally, error) {
	tallies := map[bucketKey]*store.Tally{}
	from := time.UnixMilli(h.start).UTC()
	err := s.scan(ctx, store.Query{Room: h.room, Node: h.node, From: from, To: from.Add(time.Hour)}, func(r sensors.Round) error {
		for _, x := range r.Readings {
			for _, width := range store.Widths() {
				k := bucketKey{width, store.BucketStart(r.Time, width).UnixMilli(), x.Channel}
				if tallies[k] == nil {
					tallies[k] = &store.Tally{}
				}
				tallies[k].Add(x)
			}
		}
		return nil
	})
	return tallies, err
}

func (s *Store) rollupsOf(room, node string, from, to time.Time, more ...tag) ask {
	return ask{
		bucket: s.cfg.Rollups, measurement: rollupName, from: from, to: to, keep: []string{"channel", "minutes"},
		tags: append([]tag{{"room", escape(room)}, {"node", escape(node)}}, more...),
	}
}

func (s *Store) rollupRows(ctx context.Context, a ask, each func(bucketKey, store.Tally)) error {
	return s.rows(ctx, a, func(row *query.FluxRecord) error {
		k := bucketKey{start: row.Time().UnixMilli()}
		var err error
		if k.channel, err = channelOf(row); err != nil {
			return err
		}
		width, err := text(row, "minutes")
		if err != nil {
			return err
		}
		if k.width, err = time.ParseDuration(width + "m"); err != nil {
			return fmt.Errorf("%w: a rollup's width: %w", store.ErrDamaged, err)
		}
		data, err := text(row, "_value")
		if err != nil {
			return err
		}
		t, err := decodeTally(data)
		if err != nil {
			return err
		}
		each(k, t)
		return nil
	})
}

func channelOf(row *query.FluxRecord) (sensors.Channel, error) {
	channel, err := name(row, "channel")
	if err != nil {
		return sensors.Channel{}, err
	}
	c, err := sensors.ParseChannel(channel)
	if err != nil {
		return c, fmt.Errorf("%w: a rollup: %w", store.ErrDamaged, err)
	}
	return c, nil
}

// settled runs do once rollups agree with rounds.
func (s *Store) settled(ctx context.Context, do func() error) error {
	if err := s.drain(ctx); err != nil {
		return err
	}
	if err := s.write(ctx, func() error { return s.settleAll(ctx) }); err != nil {
		return explain(ctx, err)
	}
	return s.read(ctx, do)
}

// Rollups implements store.Readings.
func (s *Store) Rollups(ctx context.Context, of store.Series, width time.Duration, from, to time.Time) (rollups []store.Rollup, err error) {
	if err := store.CheckWidth(width); err != nil {
		return nil, fmt.Errorf("read rollups: %w", err)
	}
	if !from.Before(to) || of.Node == "" {
		return nil, ctx.Err()
	}
	a := s.rollupsOf(of.Room, of.Node, ceilMilli(from.Add(-width)), ceilMilli(to), tag{"channel", escape(of.Channel.String())}, tag{"minutes", minutes(width)})
	err = s.settled(ctx, func() error {
		return s.rollupRows(ctx, a, func(k bucketKey, t store.Tally) {
			if at := time.UnixMilli(k.start).UTC(); t.Good+t.Other > 0 && at.Add(width).After(from) {
				rollups = append(rollups, t.Rollup(at, of.Channel.Quantity))
			}
		})
	})
	if err != nil {
		return nil, fmt.Errorf("read rollups: %w", err)
	}
	sort.Slice(rollups, func(i, j int) bool { return rollups[i].Start.Before(rollups[j].Start) })
	return rollups, nil
}

// Extents implements store.Readings. The hourly rollups tell the first and the
// last hour of each series, and the rounds of those hours the instant. Where
// the rounds have gone and the rollups remain, the hour's start stands for it.
func (s *Store) Extents(ctx context.Context) (extents []store.Extent, err error) {
	err = s.settled(ctx, func() error {
		hours, err := s.hoursOf(ctx)
		if err != nil {
			return err
		}
		for series, h := range hours {
			e, err := s.edges(ctx, series, h)
			if err != nil {
				return err
			}
			extents = append(extents, e)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("list the series: %w", err)
	}
	slices.SortFunc(extents, store.CompareExtents)
	return extents, nil
}

// hoursOf returns each series with the starts of its first and last hour.
func (s *Store) hoursOf(ctx context.Context) (map[store.Series]store.Extent, error) {
	hours := map[store.Series]store.Extent{}
	a := ask{
		bucket: s.cfg.Rollups, measurement: rollupName, from: epoch, to: never,
		tags: []tag{{"minutes", minutes(time.Hour)}}, keep: []string{"room", "node", "channel"},
	}
	err := s.rows(ctx, a, func(row *query.FluxRecord) error {
		if data, err := text(row, "_value"); err != nil || strings.HasPrefix(data, "1 0 0 ") {
			return err // emptied
		}
		var of store.Series
		var err1, err2, err3 error
		of.Room, err1 = name(row, "room")
		of.Node, err2 = name(row, "node")
		of.Channel, err3 = channelOf(row)
		for _, err := range []error{err1, err2, err3} {
			if err != nil {
				return err
			}
		}
		hours[of] = hours[of].With(of, row.Time().UTC())
		return nil
	})
	return hours, err
}

func (s *Store) edges(ctx context.Context, of store.Series, hours store.Extent) (store.Extent, error) {
	first, err := s.within(ctx, of, hours.First)
	if err != nil {
		return hours, err
	}
	last, err := s.within(ctx, of, hours.Last)
	return store.Extent{Series: of, First: first.First, Last: last.Last}, err
}

// within returns the extent of a series in an hour.
func (s *Store) within(ctx context.Context, of store.Series, start time.Time) (store.Extent, error) {
	var e store.Extent
	err := s.scan(ctx, store.Query{Room: of.Room, Node: of.Node, From: start, To: start.Add(time.Hour)}, func(r sensors.Round) error {
		for _, x := range r.Readings {
			if x.Channel == of.Channel {
				e = e.With(of, r.Time)
			}
		}
		return nil
	})
	if e.First.IsZero() {
		e = store.Extent{Series: of, First: start, Last: start}
	}
	return e, err
}
