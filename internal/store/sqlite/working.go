package sqlite

import (
	"cmp"
	"database/sql"
	"errors"
	"maps"
	"math"
	"slices"

	"recoat/internal/store"
	"recoat/sensors"
)

// working is a block that a batch keeps in memory: one that is new, or one that
// was a segment. A block of rows has none; its rows are written as they come.
type working struct {
	node    node
	origin  origin
	rounds  []packed // in order of id; their layouts are not known yet
	segment bool     // the file has it as a segment
	changed bool
}

// working returns a block as this batch has it, nil for a block of rows. Mostly
// it is that of the round before.
func (b *batch) working(k block, n node, o origin) (*working, error) {
	if k == b.block && len(b.blocks) > 0 {
		return b.newest, nil
	}
	w, ok := b.blocks[k]
	if !ok {
		data, found, err := b.segment(k)
		if err != nil {
			return nil, err
		}
		if w, err = b.begin(k, working{node: n, origin: o}, data, found); err != nil {
			return nil, err
		}
		b.blocks[k] = w
	}
	b.block, b.newest = k, w
	return w, nil
}

// begin takes a block into memory, unless the file has it as rows.
func (b *batch) begin(k block, w working, data []byte, found bool) (*working, error) {
	if !found {
		w.rounds = make([]packed, 0, k.expected())
		return &w, nil
	}
	if data == nil {
		return nil, nil
	}
	var err error
	w.rounds, err = decodeSegment(k, w.origin, data, b.loader.layout)
	w.segment = true
	return &w, err
}

// segment returns the packed form of a block, nil if it is of rows, and whether
// there is such a block.
func (b *batch) segment(k block) (data []byte, found bool, err error) {
	err = b.row(findBlock, k.first).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	return data, err == nil, err
}

// packedAtOnce is how many rounds of a new block make a segment of it from the
// first. Fewer are rows, since what follows them one by one is cheaper to add.
const packedAtOnce = 64

// writeBlocks puts every block that changed on the file: as a segment if a boot
// has gone two blocks beyond it, if much of it came at once, or if it was one
// before; else as rows.
func (b *batch) writeBlocks() error {
	newest := map[int64]block{}
	for k := range b.blocks {
		if boot := k.first >> seqBits; k.first >= newest[boot].first {
			newest[boot] = k
		}
	}
	// In order of their rounds, so that the same batch makes the same file.
	for _, k := range slices.SortedFunc(maps.Keys(b.blocks), block.compare) {
		w, last := b.blocks[k], newest[k.first>>seqBits]
		old := k.first+2*k.size() <= last.first
		var err error
		switch {
		case w == nil && old:
			err = b.sealRows(k)
		case w == nil:
			err = b.widen(k)
		case w.changed:
			err = b.writeWorking(k, w, old || w.segment || len(w.rounds) >= packedAtOnce)
		}
		if err != nil {
			return err
		}
		if k == last && w != nil && !w.segment {
			// A boot begins a block: the one before its neighbour is done with.
			if err := b.sealEarlier(block{k.first - 2*k.size(), k.last - 2*k.size()}); err != nil {
				return err
			}
		}
	}
	return nil
}

// expected is how many rounds a block may come to hold, as a hint.
func (k block) expected() int { return int(min(k.size(), 1<<blockBits)) }

func (k block) size() int64 { return k.last - k.first + 1 }

func (b *batch) writeWorking(k block, w *working, seal bool) error {
	lo, hi := int64(math.MaxInt64), int64(math.MinInt64)
	for i := range w.rounds {
		at := w.rounds[i].round.Time.UnixMilli()
		lo, hi = min(lo, at), max(hi, at)
	}
	if _, err := b.exec(spanBlock, k.first, lo, hi); err != nil {
		return err
	}
	if seal {
		return b.putSegment(k, w.rounds)
	}
	for _, p := range w.rounds {
		if _, err := b.insert(p.id, p.round); err != nil {
			return err
		}
	}
	return nil
}

// putSegment writes a block as a segment, and finds the layouts of its rounds.
func (b *batch) putSegment(k block, rounds []packed) error {
	for i := range rounds {
		if i > 0 && sameChannels(rounds[i-1].round.Readings, rounds[i].round.Readings) {
			rounds[i].layout = rounds[i-1].layout
			continue
		}
		layout, err := b.id(layoutNamed(rounds[i].round.Readings))
		if err != nil {
			return err
		}
		rounds[i].layout = layout
	}
	_, err := b.exec(putSegment, k.first, encodeSegment(k.first, rounds))
	return err
}

func sameChannels(a, b []sensors.Reading) bool {
	return slices.EqualFunc(a, b, func(x, y sensors.Reading) bool { return x.Channel == y.Channel })
}

// sealEarlier packs a block that this batch does not touch, if it is of rows.
func (b *batch) sealEarlier(k block) error {
	if _, touched := b.blocks[k]; touched || k.first>>seqBits != k.last>>seqBits || k.first < 0 {
		return nil
	}
	data, found, err := b.segment(k)
	if err != nil || !found || data != nil {
		return err
	}
	return b.sealRows(k)
}

// sealRows packs a block of rows into a segment.
func (b *batch) sealRows(k block) error {
	var o origin
	err := b.tx.QueryRowContext(b.ctx, `SELECT n.name, b.name FROM boot b JOIN node n ON n.id = b.node WHERE b.id = ?`, k.first>>seqBits).Scan(&o.node, &o.boot)
	if err != nil {
		return err
	}
	found, err := b.loader.loadRows(nil, k, o, math.MinInt64, math.MaxInt64)
	if err != nil {
		return err
	}
	rounds := make([]packed, len(found)) // they come in order of id
	for i, r := range found {
		rounds[i] = packed{id: roundID(k.first>>seqBits, r.Seq), round: &found[i]}
	}
	if err := b.measure(k); err != nil {
		return err
	}
	if err := b.putSegment(k, rounds); err != nil {
		return err
	}
	_, err = b.tx.ExecContext(b.ctx, `DELETE FROM round WHERE id BETWEEN ? AND ?`, k.first, k.last)
	return err
}

// addWorking puts a round into a block that is in memory.
func (b *batch) addWorking(w *working, id int64, r *sensors.Round) {
	i, held := w.find(id)
	if !held {
		w.rounds, w.changed = slices.Insert(w.rounds, i, packed{id: id, round: r}), true
		b.count(w.node, r)
		return
	}
	was := w.rounds[i].round
	if kept, changed := store.Replace(*was, *r); changed {
		w.rounds[i].round, w.changed = &kept, true
		b.replaced(w.node, *was, kept)
	}
}

// find returns where a round is or would be. Mostly it comes after all others.
func (w *working) find(id int64) (int, bool) {
	if n := len(w.rounds); n == 0 || w.rounds[n-1].id < id {
		return n, false
	}
	return slices.BinarySearchFunc(w.rounds, id, func(p packed, id int64) int { return cmp.Compare(p.id, id) })
}

// replaced has the buckets of both forms of a round counted anew.
func (b *batch) replaced(n node, held, kept sensors.Round) {
	for i := range b.recent {
		b.change(n, held.Time, i).recount = true
		b.change(n, kept.Time, i).recount = true
	}
}
