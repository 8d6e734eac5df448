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
	ctx        context.Context
	tx         *sql.Tx
	compiled   compiled
	statements [statementCount]*sql.Stmt // of this transaction
	ids        map[name]int64            // looked up or given in this batch
	known      map[name]int64            // before it
	blocks     map[block]*working
	newest     *working // the last that was asked for, of block
	block      block
	rows       map[block]span // of the blocks of rows
	buckets    map[bucket]*change
	rollups    []any    // what waits for addMany
	loader     *loader  // of what is held already
	recent     []recent // by width
	last       lastOrigin
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

// tallies are those of the channels of a bucket, in the order in which they
// came.
type tallies []channelTally

type channelTally struct {
	channel sensors.Channel
	store.Tally
}

// add counts the readings of a round. Mostly they are of the channels of the
// round before, in their order.
func (t *tallies) add(r *sensors.Round) {
	for i := range r.Readings {
		x := &r.Readings[i]
		if i >= len(*t) || (*t)[i].channel != x.Channel {
			i = t.place(x.Channel)
		}
		(*t)[i].Add(*x)
	}
}

func (t *tallies) place(c sensors.Channel) int {
	if i := slices.IndexFunc(*t, func(x channelTally) bool { return x.channel == c }); i >= 0 {
		return i
	}
	*t = append(*t, channelTally{channel: c})
	return len(*t) - 1
}

func newBatch(ctx context.Context, tx *sql.Tx, s *Store) *batch {
	return &batch{ctx: ctx, tx: tx, compiled: s.compiled, ids: map[name]int64{}, known: s.ids, blocks: map[block]*working{}, rows: map[block]span{}, buckets: map[bucket]*change{}, loader: newLoader(ctx, tx), recent: make([]recent, len(store.Widths()))}
}

// add puts one canonical round of a room where it belongs.
func (b *batch) add(room string, r *sensors.Round) error {
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
	k := blockOf(id, r.Boot)
	inserted, err := b.insert(id, r)
	if err != nil {
		return err
	}
	if inserted {
		b.rows[k] = b.rows[k].with(r.Time.UnixMilli())
		b.count(n, r)
		return nil
	}
	held, err := b.held(id, r)
	if err != nil {
		return err
	}
	kept, changed := store.Replace(held, *r)
	if !changed {
		return nil
	}
	b.replaced(n, held, kept)
	b.rows[k] = span{moved: true}
	return b.update(id, &kept)
}

// span is from when to when the rows are that a batch has put into a block.
type span struct {
	lo, hi int64
	some   bool
	moved  bool // one that was there has another time: only looking tells
}

func (s span) with(at int64) span {
	if !s.some {
		s.lo, s.hi, s.some = at, at, true
	}
	s.lo, s.hi = min(s.lo, at), max(s.hi, at)
	return s
}

// count adds a round to the buckets that hold it.
func (b *batch) count(n node, r *sensors.Round) {
	for i := range b.recent {
		b.change(n, r.Time, i).tallies.add(r)
	}
}

// change returns what happens to the bucket of a width of n that holds t. Mostly it
// is that of the round before.
func (b *batch) change(n node, t time.Time, width int) *change {
	at, last := t.UnixMilli(), &b.recent[width]
	if at < last.start || at >= last.end || last.node != n.id {
		*last = b.bucketOf(n, store.Widths()[width], t)
	}
	return last.change
}

func (b *batch) bucketOf(n node, width time.Duration, t time.Time) recent {
	k := bucket{n, width, store.BucketStart(t, width).UnixMilli()}
	if b.buckets[k] == nil {
		b.buckets[k] = &change{}
	}
	return recent{n.id, k.start, k.start + width.Milliseconds(), b.buckets[k]}
}

// recent is the bucket of a width that was last asked for.
type recent struct {
	node       int64
	start, end int64
	change     *change
}

func (b *batch) insert(id int64, r *sensors.Round) (bool, error) {
	layout, err := b.id(layoutNamed(r.Readings))
	if err != nil {
		return false, err
	}
	result, err := b.exec(insertRound, id, r.Time.UnixMilli(), encode(*r, layout))
	if err != nil {
		return false, err
	}
	rows, err := result.RowsAffected()
	return rows == 1, err
}

func (b *batch) update(id int64, r *sensors.Round) error {
	layout, err := b.id(layoutNamed(r.Readings))
	if err != nil {
		return err
	}
	_, err = b.tx.ExecContext(b.ctx, `UPDATE round SET at = ?, data = ? WHERE id = ?`, r.Time.UnixMilli(), encode(*r, layout), id)
	return err
}

// held returns the round kept under id, which has the identity of r.
func (b *batch) held(id int64, r *sensors.Round) (sensors.Round, error) {
	found, err := b.loader.loadRows(nil, block{id, id}, origin{r.Node, r.Boot}, math.MinInt64, math.MaxInt64)
	if err != nil {
		return *r, err
	}
	if len(found) != 1 {
		return *r, fmt.Errorf("%w: round %d was there and is not", store.ErrDamaged, id)
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
	return b.writeRollups(1)
}

// widen notes the times of the rows that a block was given.
func (b *batch) widen(k block) error {
	s := b.rows[k]
	if s.moved {
		return b.measure(k)
	}
	if !s.some {
		return nil
	}
	_, err := b.exec(widenBlock, k.first, s.lo, s.hi)
	return err
}

// measure notes the earliest and latest time of a block.
func (b *batch) measure(k block) error {
	_, err := b.exec(measureBlock, k.first, k.last)
	return err
}

// settle writes one bucket's change.
func (b *batch) settle(k bucket, c *change) error {
	if c.recount {
		if err := b.recount(k, c); err != nil {
			return err
		}
	}
	for _, t := range c.tallies {
		series, err := b.id(seriesNamed(k.node.id, t.channel))
		if err != nil {
			return err
		}
		lo, hi := any(t.Min), any(t.Max)
		if t.Good == 0 {
			lo, hi = nil, nil
		}
		b.rollups = append(b.rollups, minutes(k.width), k.start, series, t.Good, t.Other, lo, hi, t.Sum)
	}
	return b.writeRollups(manyRollups)
}

// recount empties a bucket and draws up its tallies from the rounds.
func (b *batch) recount(k bucket, c *change) error {
	_, err := b.tx.ExecContext(b.ctx, `DELETE FROM rollup WHERE width = ? AND start = ? AND series IN (SELECT id FROM series WHERE node = ?)`,
		minutes(k.width), k.start, k.node.id)
	if err != nil {
		return err
	}
	c.tallies = nil
	from := time.UnixMilli(k.start)
	return scan(b.ctx, b.tx, store.Query{Room: k.node.room, Node: k.node.name, From: from, To: from.Add(k.width)}, func(r sensors.Round) error {
		c.tallies.add(&r)
		return nil
	})
}

// writeRollups writes what waits, until fewer than least rollups are left.
func (b *batch) writeRollups(least int) error {
	const columns = 8
	left := b.rollups
	for len(left) >= least*columns && len(left) > 0 {
		rows, s := 1, addRollup
		switch {
		case len(left) >= manyRollups*columns:
			rows, s = manyRollups, addMany
		case len(left) >= someRollups*columns:
			rows, s = someRollups, addSome
		}
		if _, err := b.exec(s, left[:rows*columns]...); err != nil {
			return err
		}
		left = left[rows*columns:]
	}
	b.rollups = append(b.rollups[:0], left...)
	return nil
}

func minutes(width time.Duration) int64 { return int64(width / time.Minute) }
