package sqlite

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// A round's id holds its boot above its seq, so that one table finds a round
// by its identity and keeps the rounds of a boot side by side.
const (
	seqBits = 42
	maxBoot = 1<<(63-seqBits) - 1
)

func roundID(boot int64, seq uint64) int64 { return boot<<seqBits | int64(seq) }

// block is a run of ids whose earliest and latest time are noted, which is how
// rounds are found by time.
type block struct{ first, last int64 }

func (k block) compare(o block) int { return cmp.Compare(k.first, o.first) }

// A block is 256 rounds of a node, or of a foreign device, whose seq is a
// time in milliseconds, the rounds of about 17 minutes.
const (
	blockBits        = 8
	foreignBlockBits = 20
)

func blockOf(id int64, boot string) block {
	mask := int64(1)<<blockBits - 1
	if boot == "" {
		mask = 1<<foreignBlockBits - 1
	}
	return block{id &^ mask, id | mask}
}

// record is a row of the table of rounds.
type record struct {
	id, at int64
	data   []byte
}

// origin is what the id of a record stands for.
type origin struct{ node, boot string }

// The bits of the first byte of data.
const (
	clockSet  = 1 << 0
	qualities = 1 << 1 // a quality comes before each value; otherwise all are good
	knownBits = clockSet | qualities
)

// encode packs a canonical round, whose channels are those of the layout.
func encode(r sensors.Round, layout int64) []byte {
	var flags byte
	if r.ClockSet {
		flags |= clockSet
	}
	for _, x := range r.Readings {
		if x.Quality != sensors.Good {
			flags |= qualities
		}
	}
	data := append(make([]byte, 0, 8+4*len(r.Readings)), flags)
	data = binary.AppendUvarint(data, uint64(layout))
	data = binary.AppendUvarint(data, uint64(r.Uptime.Milliseconds()))
	for _, x := range r.Readings {
		if flags&qualities != 0 {
			data = append(data, byte(x.Quality))
		}
		if x.Quality != sensors.Missing {
			data = binary.AppendVarint(data, x.Channel.Quantity.Steps(x.Value))
		}
	}
	return data
}

// decode is the inverse of encode, given what the id stands for and a way to
// find layouts. It refuses data that does not fit its layout.
func (x record) decode(o origin, find func(layout int64) ([]sensors.Channel, error)) (sensors.Round, error) {
	r := sensors.Round{Node: o.node, Boot: o.boot, Seq: uint64(x.id & (1<<seqBits - 1)), Time: time.UnixMilli(x.at).UTC()}
	if len(x.data) == 0 || x.data[0]&^knownBits != 0 {
		return r, x.damaged("its flags are unknown")
	}
	rest := x.data[1:]
	layout, n := binary.Uvarint(rest)
	if n <= 0 || layout > math.MaxInt64 {
		return r, x.damaged("its layout is missing")
	}
	rest = rest[n:]
	up, n := binary.Uvarint(rest)
	if n <= 0 || up > math.MaxInt64/uint64(time.Millisecond) {
		return r, x.damaged("its uptime is missing or out of bounds")
	}
	rest = rest[n:]
	channels, err := find(int64(layout))
	if err != nil {
		return r, fmt.Errorf("round %d: %w", x.id, err)
	}
	r.ClockSet = x.data[0]&clockSet != 0
	r.Uptime = time.Duration(up) * time.Millisecond
	r.Readings, err = x.readings(channels, rest)
	return r, err
}

// readings decodes the values of a layout's channels, which take all of rest.
func (x record) readings(layout []sensors.Channel, rest []byte) ([]sensors.Reading, error) {
	var readings []sensors.Reading
	for _, c := range layout {
		reading := sensors.Reading{Channel: c}
		if x.data[0]&qualities != 0 {
			if len(rest) == 0 || rest[0] > byte(sensors.Missing) {
				return nil, x.damaged("a quality is missing or unknown")
			}
			reading.Quality, rest = sensors.Quality(rest[0]), rest[1:]
		}
		if reading.Quality != sensors.Missing {
			steps, n := binary.Varint(rest)
			if n <= 0 || steps > store.MaxSteps || steps < -store.MaxSteps {
				return nil, x.damaged("a value is missing or out of bounds")
			}
			reading.Value, rest = c.Quantity.FromSteps(steps), rest[n:]
		}
		readings = append(readings, reading)
	}
	if len(rest) != 0 {
		return nil, x.damaged("it is longer than its layout")
	}
	return readings, nil
}

func (x record) damaged(what string) error {
	return fmt.Errorf("%w: round %d: %s", store.ErrDamaged, x.id, what)
}
