package sqlite

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// A segment is a block of rounds packed into one value, each written as what
// differs from the round before it.

const (
	segmentVersion = 1
	checkBytes     = 4
)

// The bits of a round's first byte in a segment; the two of record.go are the
// lowest.
const (
	sameLayout  = 1 << 2 // the layout of the round before
	nextID      = 1 << 3 // the id after that of the round before
	evenStep    = 1 << 4 // as long after it as that one was after its own
	evenUptime  = 1 << 5 // the uptime advanced as the time did
	segmentBits = knownBits | sameLayout | nextID | evenStep | evenUptime
)

// chain is what the next round of a segment is told apart from.
type chain struct {
	id, at, step, up, layout int64
	channels                 []sensors.Channel
	values                   []int64 // in steps, by place in the layout
}

// move takes up another layout, with the values of the channels both have.
func (c *chain) move(layout int64, channels []sensors.Channel) {
	values := make([]int64, len(channels))
	for i, to := range channels {
		for j, from := range c.channels {
			if from == to {
				values[i] = c.values[j]
			}
		}
	}
	c.layout, c.channels, c.values = layout, channels, values
}

// packed is a round with the number of its layout.
type packed struct {
	id     int64
	layout int64
	round  *sensors.Round
}

// encodeSegment packs canonical rounds, in order of id, of the block that
// begins at first.
func encodeSegment(first int64, rounds []packed) []byte {
	data := binary.AppendUvarint([]byte{segmentVersion}, uint64(len(rounds)))
	c := chain{id: first - 1}
	for _, p := range rounds {
		data = c.append(data, p)
	}
	return binary.BigEndian.AppendUint32(data, crc32.Checksum(data, castagnoli()))
}

func castagnoli() *crc32.Table { return crc32.MakeTable(crc32.Castagnoli) }

func (c *chain) append(data []byte, p packed) []byte {
	r := p.round
	at, up := r.Time.UnixMilli(), r.Uptime.Milliseconds()
	step := at - c.at
	head := len(data)
	data = append(data, 0)
	flag := func(bit byte, holds bool) bool {
		if holds {
			data[head] |= bit
		}
		return holds
	}
	flag(clockSet, r.ClockSet)
	marked := flag(qualities, anyMarked(r.Readings))
	if !flag(sameLayout, c.layout == p.layout) {
		channels := make([]sensors.Channel, len(r.Readings))
		for i, x := range r.Readings {
			channels[i] = x.Channel
		}
		c.move(p.layout, channels)
		data = binary.AppendUvarint(data, uint64(p.layout))
	}
	if !flag(nextID, p.id == c.id+1) {
		data = binary.AppendUvarint(data, uint64(p.id-c.id))
	}
	if !flag(evenStep, step == c.step) {
		data = binary.AppendVarint(data, step-c.step)
	}
	if !flag(evenUptime, up-c.up == step) {
		data = binary.AppendVarint(data, up-c.up-step)
	}
	c.id, c.at, c.step, c.up = p.id, at, step, up
	return c.appendValues(data, r.Readings, marked)
}

func (c *chain) appendValues(data []byte, readings []sensors.Reading, marked bool) []byte {
	for i, x := range readings {
		if marked {
			data = append(data, byte(x.Quality))
		}
		if x.Quality != sensors.Missing {
			n := x.Channel.Quantity.Steps(x.Value)
			data = binary.AppendVarint(data, n-c.values[i])
			c.values[i] = n
		}
	}
	return data
}

func anyMarked(readings []sensors.Reading) bool {
	for _, x := range readings {
		if x.Quality != sensors.Good {
			return true
		}
	}
	return false
}

// segmentReader unpacks a segment.
type segmentReader struct {
	chain
	first, last int64
	origin      origin
	find        func(layout int64) ([]sensors.Channel, error)
	rest        []byte
	bad         bool
}

// decodeSegment is the inverse of encodeSegment, given what the ids of the
// block stand for and a way to find layouts. It refuses what is not whole.
func decodeSegment(k block, o origin, data []byte, find func(int64) ([]sensors.Channel, error)) ([]packed, error) {
	damaged := func(what string) error {
		return fmt.Errorf("%w: the segment of round %d: %s", store.ErrDamaged, k.first, what)
	}
	body := len(data) - checkBytes
	if body < 2 || data[0] != segmentVersion {
		return nil, damaged("its form is unknown")
	}
	if binary.BigEndian.Uint32(data[body:]) != crc32.Checksum(data[:body], castagnoli()) {
		return nil, damaged("its check sum is wrong")
	}
	s := segmentReader{chain: chain{id: k.first - 1}, first: k.first, last: k.last, origin: o, find: find, rest: data[1:body]}
	count := s.uvarint()
	if s.bad || count > uint64(len(s.rest)) {
		return nil, damaged("its count is wrong")
	}
	rounds, found := make([]packed, 0, max(count, 1<<blockBits)), make([]sensors.Round, count) // a few more may come
	readings := make([]sensors.Reading, 0, len(s.rest))                                        // a reading takes a byte or more
	for i := range found {
		p := packed{round: &found[i]}
		var err error
		if readings, err = s.next(&p, readings); err != nil {
			return nil, err
		}
		if s.bad {
			return nil, damaged("a round in it is cut short or out of bounds")
		}
		rounds = append(rounds, p)
	}
	if len(s.rest) != 0 {
		return nil, damaged("it is longer than its rounds")
	}
	return rounds, nil
}

func (s *segmentReader) uvarint() uint64 {
	v, n := binary.Uvarint(s.rest)
	if n <= 0 {
		s.bad, s.rest = true, nil
		return 0
	}
	s.rest = s.rest[n:]
	return v
}

func (s *segmentReader) varint() int64 {
	v, n := binary.Varint(s.rest)
	if n <= 0 {
		s.bad, s.rest = true, nil
		return 0
	}
	s.rest = s.rest[n:]
	return v
}

func (s *segmentReader) byte() byte {
	if len(s.rest) == 0 {
		s.bad = true
		return 0
	}
	b := s.rest[0]
	s.rest = s.rest[1:]
	return b
}

// next reads one round into p, whose readings it appends to those of the others.
func (s *segmentReader) next(p *packed, readings []sensors.Reading) ([]sensors.Reading, error) {
	flags := s.byte()
	s.bad = s.bad || flags&^segmentBits != 0
	if flags&sameLayout == 0 {
		layout := int64(s.uvarint())
		channels, err := s.find(layout)
		if err != nil {
			return readings, err
		}
		s.move(layout, channels)
	}
	skip := uint64(1)
	if flags&nextID == 0 {
		skip = s.uvarint()
	}
	if flags&evenStep == 0 {
		s.step += s.varint()
	}
	up := s.step
	if flags&evenUptime == 0 {
		up += s.varint()
	}
	if s.bad = s.bad || skip == 0 || skip > uint64(s.last-s.id); s.bad {
		return readings, nil
	}
	s.id, s.at, s.up = s.id+int64(skip), s.at+s.step, s.up+up
	s.bad = s.at < 0 || s.at >= latestMilli || s.up < 0 || s.up > maxUptimeMilli
	from := len(readings)
	readings = s.values(readings, flags&qualities != 0)
	p.id, p.layout = s.id, s.layout
	*p.round = sensors.Round{
		Node: s.origin.node, Boot: s.origin.boot, Seq: uint64(s.id & (1<<seqBits - 1)), ClockSet: flags&clockSet != 0,
		Time: time.UnixMilli(s.at).UTC(), Uptime: time.Duration(s.up) * time.Millisecond, Readings: cut(readings, from),
	}
	return readings, nil
}

// cut returns the readings from one on, with no room behind them that others
// use.
func cut(readings []sensors.Reading, from int) []sensors.Reading {
	if from == len(readings) {
		return nil
	}
	return readings[from:len(readings):len(readings)]
}

const (
	latestMilli    = 4102444800000 // 2100, as store.Canonical has it
	maxUptimeMilli = int64(1<<63-1) / int64(time.Millisecond)
)

func (s *segmentReader) values(readings []sensors.Reading, marked bool) []sensors.Reading {
	for i, c := range s.channels {
		x := sensors.Reading{Channel: c}
		if marked {
			q := s.byte()
			s.bad = s.bad || q > byte(sensors.Missing)
			x.Quality = sensors.Quality(q)
		}
		if x.Quality != sensors.Missing {
			s.chain.values[i] += s.varint()
			n := s.chain.values[i]
			s.bad = s.bad || n > store.MaxSteps || n < -store.MaxSteps
			x.Value = c.Quantity.FromSteps(n)
		}
		if s.bad {
			return readings
		}
		readings = append(readings, x)
	}
	return readings
}
