package sqlite

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// batch is one transaction that adds rounds. Rounds of blocks that are rows are
// written as they come; other blocks, and rollups, follow in finish.
type batch struct {
	ctx     context.Context
	tx      *sql.Tx
	ids     map[name]int64 // looked up or given in this batch
	known   map[name]int64 // before it
	blocks  map[block]*working
	buckets map[bucket]*change
	loader  *loader // of what is held already
	recent  []recent
	last    lastOrigin
	inserts *sql.Stmt
	upserts *sql.Stmt
}

// node is a node as the tables know it.
type node struct {
	id         int64
	room, name string
}

// bucket is one span of one width, for all channels of a node.
type bucket struct {
	node  node
	width time.Duration
	start int64
}

func (k bucket) compare(other bucket) int {
	return cmp.Or(cmp.Compare(k.width, other.width), cmp.Compare(k.start, other.start), cmp.Compare(k.node.id, other.node.id))
}

// change is what a batch does to a bucket. Tallies are added to it, unless
// recount says that it must be drawn up anew from the rounds, because one that
// it had counted was replaced.
type change struct {
	recount bool
	tallies tallies
}

type tallies map[sensors.Channel]*store.Tally

func (t tallies) add(r sensors.Round) {
	for _, x := range r.Readings {
		if t[x.Channel] == nil {
			t[x.Channel] = &store.Tally{}
		}
		t[x.Channel].Add(x)
	}
}

func newBatch(ctx context.Context, tx *sql.Tx, known map[name]int64) *batch {
	return &batch{ctx: ctx, tx: tx, ids: map[name]int64{}, known: known, blocks: map[block]*working{}, buckets: map[bucket]*change{}, loader: newLoader(ctx, tx)}
}

// add puts one canonical round of a room where it belongs.
func (b *batch) add(room string, r sensors.Round) error {
	n, boot, err := b.origin(room, r)
	if err != nil {
		return err
	}
	id := roundID(boot, r.Seq)
	w, err := b.working(blockOf(id, r.Boot), n, origin{r.Node, r.Boot})
	if err != nil {
		return err
	}
	if w != nil {
		b.addWorking(w, id, r)
		return nil
	}
	inserted, err := b.insert(id, r)
	if err != nil {
		return err
	}
	if inserted {
		b.each(n, r.Time, func(c *change) { c.tallies.add(r) })
		return nil
	}
	held, err := b.held(id, r)
	if err != nil {
		return err
	}
	kept, changed := store.Replace(held, r)
	if !changed {
		return nil
	}
	b.replaced(n, held, kept)
	return b.update(id, kept)
}

// each calls do with the change of every bucket of n that holds t. Mostly they
// are those of the round before.
func (b *batch) each(n node, t time.Time, do func(*change)) {
	for i, width := range store.Widths() {
		k := bucket{n, width, store.BucketStart(t, width).UnixMilli()}
		if len(b.recent) <= i {
			b.recent = append(b.recent, recent{})
		}
		if last := &b.recent[i]; last.change == nil || last.bucket != k {
			if b.buckets[k] == nil {
				b.buckets[k] = &change{tallies: tallies{}}
			}
			*last = recent{k, b.buckets[k]}
		}
		do(b.recent[i].change)
	}
}

// recent is the bucket of a width that was last asked for.
type recent struct {
	bucket bucket
	change *change
}

func (b *batch) insert(id int64, r sensors.Round) (bool, error) {
	layout, err := b.id(layoutNamed(r.Readings))
	if err != nil {
		return false, err
	}
	if err := b.loader.prepare(&b.inserts, `INSERT INTO round(id, at, data) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`); err != nil {
		return false, err
	}
	result, err := b.inserts.ExecContext(b.ctx, id, r.Time.UnixMilli(), encode(r, layout))
	if err != nil {
		return false, err
	}
	rows, err := result.RowsAffected()
	return rows == 1, err
}

func (b *batch) update(id int64, r sensors.Round) error {
	layout, err := b.id(layoutNamed(r.Readings))
	if err != nil {
		return err
	}
	_, err = b.tx.ExecContext(b.ctx, `UPDATE round SET at = ?, data = ? WHERE id = ?`, r.Time.UnixMilli(), encode(r, layout), id)
	return err
}

// held returns the round kept under id, which has the identity of r.
func (b *batch) held(id int64, r sensors.Round) (sensors.Round, error) {
	found, err := b.loader.loadRows(nil, block{id, id}, origin{r.Node, r.Boot}, math.MinInt64, math.MaxInt64)
	if err != nil {
		return r, err
	}
	if len(found) != 1 {
		return r, fmt.Errorf("%w: round %d was there and is not", store.ErrDamaged, id)
	}
	return found[0], nil
}

// finish brings blocks and rollups up to the rounds that were added.
func (b *batch) finish() error {
	if err := b.writeBlocks(); err != nil {
		return err
	}
	for _, k := range slices.SortedFunc(maps.Keys(b.buckets), bucket.compare) { // the order in which they lie on the disk
		if err := b.settle(k, b.buckets[k]); err != nil {
			return err
		}
	}
	return nil
}

// measure notes the earliest and latest time of a block.
func (b *batch) measure(k block) error {
	_, err := b.tx.ExecContext(b.ctx, `INSERT INTO block(id, lo, hi) SELECT ?1, min(at), max(at) FROM round WHERE id BETWEEN ?1 AND ?2
		ON CONFLICT DO UPDATE SET lo = excluded.lo, hi = excluded.hi`, k.first, k.last)
	return err
}

// settle writes one bucket's change.
func (b *batch) settle(k bucket, c *change) error {
	if c.recount {
		if err := b.recount(k, c); err != nil {
			return err
		}
	}
	for channel, t := range c.tallies {
		series, err := b.id(seriesNamed(k.node.id, channel))
		if err != nil {
			return err
		}
		if err := b.upsert(k, series, *t); err != nil {
			return err
		}
	}
	return nil
}

// recount empties a bucket and draws up its tallies from the rounds.
func (b *batch) recount(k bucket, c *change) error {
	_, err := b.tx.ExecContext(b.ctx, `DELETE FROM rollup WHERE width = ? AND start = ? AND series IN (SELECT id FROM series WHERE node = ?)`,
		minutes(k.width), k.start, k.node.id)
	if err != nil {
		return err
	}
	c.tallies = tallies{}
	from := time.UnixMilli(k.start)
	return scan(b.ctx, b.tx, store.Query{Room: k.node.room, Node: k.node.name, From: from, To: from.Add(k.width)}, func(r sensors.Round) error {
		c.tallies.add(r)
		return nil
	})
}

func (b *batch) upsert(k bucket, series int64, t store.Tally) error {
	lo := sql.NullInt64{Int64: t.Min, Valid: t.Good > 0}
	hi := sql.NullInt64{Int64: t.Max, Valid: t.Good > 0}
	// min and max of a NULL are NULL, so the side that has no good reading
	// borrows the other's.
	err := b.loader.prepare(&b.upserts, `INSERT INTO rollup(width, start, series, good, other, lo, hi, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT DO UPDATE SET good = good + excluded.good, other = other + excluded.other, sum = sum + excluded.sum,
			lo = min(coalesce(lo, excluded.lo), coalesce(excluded.lo, lo)),
			hi = max(coalesce(hi, excluded.hi), coalesce(excluded.hi, hi))`)
	if err != nil {
		return err
	}
	_, err = b.upserts.ExecContext(b.ctx, minutes(k.width), k.start, series, t.Good, t.Other, lo, hi, t.Sum)
	return err
}

func minutes(width time.Duration) int64 { return int64(width / time.Minute) }
