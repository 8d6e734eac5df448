package sqlite

import (
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
	rounds  map[int64]sensors.Round
	segment bool // the file has it as a segment
	changed bool
}

// working returns a block as this batch has it, nil for a block of rows.
func (b *batch) working(k block, n node, o origin) (*working, error) {
	if w, ok := b.blocks[k]; ok {
		return w, nil
	}
	data, found, err := b.segment(k)
	if err != nil {
		return nil, err
	}
	var w *working
	switch {
	case !found:
		w = &working{node: n, origin: o, rounds: make(map[int64]sensors.Round, k.expected())}
	case data != nil:
		rounds, err := decodeSegment(k, o, data, b.loader.layout)
		if err != nil {
			return nil, err
		}
		w = &working{node: n, origin: o, rounds: make(map[int64]sensors.Round, len(rounds)), segment: true}
		for _, p := range rounds {
			w.rounds[p.id] = p.round
		}
	}
	b.blocks[k] = w
	return w, nil
}

// segment returns the packed form of a block, nil if it is of rows, and whether
// there is such a block.
func (b *batch) segment(k block) (data []byte, found bool, err error) {
	err = b.tx.QueryRowContext(b.ctx, `SELECT s.data FROM block k LEFT JOIN segment s ON s.id = k.id WHERE k.id = ?`, k.first).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	return data, err == nil, err
}

// writeBlocks puts every block that changed on the file: as a segment if a boot
// has gone two blocks beyond it, if it is full, or if it was one before; else as
// rows.
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
			err = b.measure(k)
		case w.changed:
			err = b.writeWorking(k, w, old || w.segment || int64(len(w.rounds)) == k.size())
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
	for _, r := range w.rounds {
		at := r.Time.UnixMilli()
		lo, hi = min(lo, at), max(hi, at)
	}
	_, err := b.tx.ExecContext(b.ctx, `INSERT INTO block(id, lo, hi) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET lo = excluded.lo, hi = excluded.hi`, k.first, lo, hi)
	if err != nil {
		return err
	}
	if seal {
		return b.putSegment(k, w.rounds)
	}
	for _, id := range slices.Sorted(maps.Keys(w.rounds)) {
		if _, err := b.insert(id, w.rounds[id]); err != nil {
			return err
		}
	}
	return nil
}

func (b *batch) putSegment(k block, rounds map[int64]sensors.Round) error {
	all := make([]packed, 0, len(rounds))
	for _, id := range slices.Sorted(maps.Keys(rounds)) {
		p := packed{id: id, round: rounds[id]}
		if n := len(all); n > 0 && sameChannels(all[n-1].round.Readings, p.round.Readings) {
			p.layout = all[n-1].layout
		} else {
			layout, err := b.id(layoutNamed(p.round.Readings))
			if err != nil {
				return err
			}
			p.layout = layout
		}
		all = append(all, p)
	}
	_, err := b.tx.ExecContext(b.ctx, `INSERT INTO segment(id, data) VALUES (?, ?) ON CONFLICT DO UPDATE SET data = excluded.data`, k.first, encodeSegment(k.first, all))
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
	rounds := make(map[int64]sensors.Round, len(found))
	for _, r := range found {
		rounds[roundID(k.first>>seqBits, r.Seq)] = r
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
func (b *batch) addWorking(w *working, id int64, r sensors.Round) {
	held, ok := w.rounds[id]
	if !ok {
		w.rounds[id], w.changed = r, true
		b.each(w.node, r.Time, func(c *change) { c.tallies.add(r) })
		return
	}
	if kept, changed := store.Replace(held, r); changed {
		w.rounds[id], w.changed = kept, true
		b.replaced(w.node, held, kept)
	}
}

// replaced has the buckets of both forms of a round counted anew.
func (b *batch) replaced(n node, held, kept sensors.Round) {
	b.each(n, held.Time, func(c *change) { c.recount = true })
	b.each(n, kept.Time, func(c *change) { c.recount = true })
}
