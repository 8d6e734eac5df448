package influx

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"recoat/internal/store"
	"recoat/sensors"
)

// The server is asked for a day of rounds at a time, which bounds the memory
// of both sides.
const window = 24 * time.Hour

// Rounds implements store.Readings. It must not be called from within each.
func (s *Store) Rounds(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	var own error
	err := s.read(ctx, func() error {
		return s.scan(ctx, q, func(r sensors.Round) error {
			own = each(r)
			return own
		})
	})
	if own != nil {
		return own
	}
	if err != nil {
		return fmt.Errorf("read rounds: %w", err)
	}
	return nil
}

// scan calls each with what q asks for, day by day, between the first and the
// last round that there is.
func (s *Store) scan(ctx context.Context, q store.Query, each func(sensors.Round) error) error {
	from, to := ceilMilli(q.From), ceilMilli(q.To)
	if !from.Before(to) {
		return ctx.Err()
	}
	if to.Sub(from) > window {
		var err error
		if from, to, err = s.narrow(ctx, q, from, to); err != nil {
			return err
		}
	}
	for ; from.Before(to); from = from.Add(window) {
		if err := s.scanWindow(ctx, q, from, earlier(to, from.Add(window)), each); err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (s *Store) scanWindow(ctx context.Context, q store.Query, from, to time.Time, each func(sensors.Round) error) error {
	var same []sensors.Round // of one millisecond: the server knows no order among them
	flush := func() error {
		slices.SortFunc(same, store.Compare)
		for _, r := range same {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := each(r); err != nil {
				return err
			}
		}
		same = same[:0]
		return nil
	}
	err := s.rows(ctx, s.roundsOf(q, from, to, inOrder), func(row *query.FluxRecord) error {
		r, live, err := roundOf(row)
		if err != nil || !live {
			return err
		}
		if len(same) > 0 && !same[0].Time.Equal(r.Time) {
			if err := flush(); err != nil {
				return err
			}
		}
		same = append(same, r)
		return nil
	})
	if err != nil {
		return err
	}
	return flush()
}

func (s *Store) roundsOf(q store.Query, from, to time.Time, tail string) ask {
	a := ask{
		bucket: s.cfg.Readings, measurement: roundName, from: from, to: to,
		tags: []tag{{"room", escape(q.Room)}}, keep: []string{"node", "boot"}, tail: tail,
	}
	if q.Node != "" {
		a.tags = append(a.tags, tag{"node", escape(q.Node)})
	}
	return a
}

// narrow brings a long span down to what there is of it.
func (s *Store) narrow(ctx context.Context, q store.Query, from, to time.Time) (first, last time.Time, err error) {
	first, last = to, from
	for _, tail := range []string{earliest, newest} {
		err := s.rows(ctx, s.roundsOf(q, from, to, tail), func(row *query.FluxRecord) error {
			at := time.UnixMilli(row.Time().UnixMilli()).UTC()
			first = earlier(first, at)
			if end := at.Add(time.Millisecond); end.After(last) {
				last = end
			}
			return nil
		})
		if err != nil {
			return first, last, err
		}
	}
	return first, last, nil
}

// roundOf reads a row; one that has moved elsewhere is not live.
func roundOf(row *query.FluxRecord) (r sensors.Round, live bool, err error) {
	data, err := text(row, "_value")
	if err != nil || data == movedAway {
		return r, false, err
	}
	if r.Node, err = name(row, "node"); err != nil {
		return r, false, err
	}
	boot, err := text(row, "boot")
	if err != nil {
		return r, false, err
	}
	if boot != foreign {
		if r.Boot, err = unescape(boot); err != nil {
			return r, false, err
		}
	}
	r.Time = time.UnixMilli(row.Time().UnixMilli()).UTC()
	return r, true, decode(&r, data)
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// ceilMilli returns the first whole millisecond not before t, within what the
// server can be asked for.
func ceilMilli(t time.Time) time.Time {
	switch up := time.UnixMilli(t.Add(time.Millisecond - 1).UnixMilli()).UTC(); {
	case up.Before(epoch):
		return epoch
	case up.After(never):
		return never
	default:
		return up
	}
}

var (
	epoch = time.Unix(0, 0).UTC()
	never = time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
)
