package store

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"recoat/sensors"
)

// The bounds of what is accepted.
const (
	MaxName     = 64        // bytes in the name of a room, a node or a boot
	MaxReadings = 64        // readings in a round
	MaxSeq      = 1<<42 - 1 // at ten rounds a second, 13 000 years
	// MaxSteps keeps the sum of a bucket inside 64 bits even if it held a
	// reading every millisecond.
	MaxSteps = 1 << 40
)

// earliest and latest bound the time of a round, in Unix seconds: from 1970 to
// 2100. A Pi without a clock starts in 1970, never before.
const (
	earliest = 0
	latest   = 4102444800
)

// Canonical returns the rounds of a room as they are kept and read back, or
// ErrInvalid for the first that cannot be kept. A foreign round (Boot empty)
// gets its Unix milliseconds as Seq and no Uptime, so that node, boot and seq
// are the identity of every round. The argument is left as it is.
func Canonical(room string, rounds []sensors.Round) ([]sensors.Round, error) {
	if err := checkName("room", room); err != nil {
		return nil, err
	}
	kept := slices.Clone(rounds)
	n := 0
	for i := range kept {
		n += min(len(kept[i].Readings), MaxReadings)
	}
	readings := make([]sensors.Reading, 0, n) // of all rounds, in one piece
	before := &sensors.Round{}
	for i := range kept {
		r := &kept[i]
		if err := canonical(r, before, &readings); err != nil {
			return nil, fmt.Errorf("round %d of %d (node %q, boot %q, seq %d): %w", i+1, len(rounds), r.Node, r.Boot, r.Seq, err)
		}
		before = r
	}
	return kept, nil
}

// canonical makes a round what is kept of it, and puts its readings behind those of
// the rounds before.
func canonical(r, before *sensors.Round, all *[]sensors.Reading) error {
	if err := checkIdentity(r, before); err != nil {
		return err
	}
	if at := r.Time.Unix(); at < earliest || at >= latest {
		return fmt.Errorf("%w: the time %s is not between 1970 and 2100", ErrInvalid, r.Time.UTC().Format(time.RFC3339))
	}
	if r.Uptime < 0 {
		return fmt.Errorf("%w: the uptime %v is negative", ErrInvalid, r.Uptime)
	}
	if len(r.Readings) > MaxReadings {
		return fmt.Errorf("%w: %d readings, %d at most", ErrInvalid, len(r.Readings), MaxReadings)
	}
	if r.Readings != nil {
		from := len(*all)
		*all = append(*all, r.Readings...)
		r.Readings = slices.Clip((*all)[from:])
	}
	at := r.Time.UnixMilli()
	r.Time = time.UnixMilli(at).UTC()
	r.Uptime = r.Uptime.Truncate(time.Millisecond)
	if r.Boot == "" {
		r.Seq, r.Uptime = uint64(at), 0
	}
	return canonicalReadings(r.Readings)
}

// checkIdentity looks at names only where they are not those of the round
// before.
func checkIdentity(r, before *sensors.Round) error {
	if r.Node != before.Node || r.Node == "" {
		if err := checkName("node", r.Node); err != nil {
			return err
		}
	}
	if r.Boot == "" {
		return nil
	}
	if r.Seq < 1 || r.Seq > MaxSeq {
		return fmt.Errorf("%w: a seq is 1 to %d", ErrInvalid, int64(MaxSeq))
	}
	if r.Boot == before.Boot {
		return nil
	}
	return checkName("boot", r.Boot)
}

func checkName(what, name string) error {
	if name == "" || len(name) > MaxName || !utf8.ValidString(name) || strings.ContainsFunc(name, unicode.IsControl) {
		return fmt.Errorf("%w: %q as the name of a %s: 1 to %d bytes of UTF-8 without control characters", ErrInvalid, name, what, MaxName)
	}
	return nil
}

func canonicalReadings(kept []sensors.Reading) error {
	byChannel := func(a, b sensors.Reading) int { return CompareChannels(a.Channel, b.Channel) }
	if !slices.IsSortedFunc(kept, byChannel) {
		slices.SortFunc(kept, byChannel)
	}
	for i := range kept {
		if i > 0 && kept[i].Channel == kept[i-1].Channel {
			return fmt.Errorf("%w: two readings of %v", ErrInvalid, kept[i].Channel)
		}
		if err := canonicalReading(&kept[i]); err != nil {
			return err
		}
	}
	return nil
}

func canonicalReading(x *sensors.Reading) error {
	c := x.Channel
	switch {
	case c.Quantity.Step() == 0:
		return fmt.Errorf("%w: quantity %d is unknown", ErrInvalid, c.Quantity)
	case c.Probe != "" && !sensors.ValidProbe(c.Probe):
		return fmt.Errorf("%w: %q cannot name a probe", ErrInvalid, c.Probe)
	case x.Quality > sensors.Missing:
		return fmt.Errorf("%w: %v: %v is unknown", ErrInvalid, c, x.Quality)
	case x.Quality == sensors.Missing:
		x.Value = 0
	case !sensors.IsFinite(x.Value) || x.Value/c.Quantity.Step() > MaxSteps || x.Value/c.Quantity.Step() < -MaxSteps:
		return fmt.Errorf("%w: %v: %v %s is not a value", ErrInvalid, c, x.Value, c.Quantity.Unit())
	default:
		x.Value = c.Quantity.FromSteps(c.Quantity.Steps(x.Value))
	}
	return nil
}

// Compare orders rounds of one room by time, then node, boot and seq.
func Compare(a, b sensors.Round) int {
	return cmp.Or(
		a.Time.Compare(b.Time),
		cmp.Compare(a.Node, b.Node),
		cmp.Compare(a.Boot, b.Boot),
		cmp.Compare(a.Seq, b.Seq))
}

// CompareChannels orders channels by quantity, then probe.
func CompareChannels(a, b sensors.Channel) int {
	return cmp.Or(cmp.Compare(a.Quantity, b.Quantity), cmp.Compare(a.Probe, b.Probe))
}

// Replace says what is kept when came arrives with the identity of held, and
// whether that differs from held. Both are canonical.
//
// A node's round is known by node, boot and seq, and the later delivery takes
// the place of the earlier one: its time was corrected. But a round whose
// clock was set is never replaced by one whose was not, because brokers may
// deliver an old copy again after the corrected one.
//
// A foreign round is known by node and time, which its seq repeats; its
// channels are merged, because plain devices send one channel at a time.
func Replace(held, came sensors.Round) (kept sensors.Round, changed bool) {
	switch {
	case came.Boot == "":
		came.Readings = merge(held.Readings, came.Readings)
		came.ClockSet = came.ClockSet || held.ClockSet
	case held.ClockSet && !came.ClockSet:
		return held, false
	}
	same := came.Time.Equal(held.Time) && came.Uptime == held.Uptime &&
		came.ClockSet == held.ClockSet && slices.Equal(came.Readings, held.Readings)
	return came, !same
}

func merge(held, came []sensors.Reading) []sensors.Reading {
	byChannel := make(map[sensors.Channel]sensors.Reading, len(held)+len(came))
	for _, x := range slices.Concat(held, came) {
		byChannel[x.Channel] = x
	}
	return slices.SortedFunc(maps.Values(byChannel), func(a, b sensors.Reading) int {
		return CompareChannels(a.Channel, b.Channel)
	})
}
