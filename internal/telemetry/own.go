package telemetry

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"recoat/sensors"
)

// ownDecoder gathers the records of one node's round.
type ownDecoder struct {
	round sensors.Round
	seen  []string // names that came
	value []bool   // a value came, for each of round.Readings
}

func decodeOwn(room, node string, records []record) (sensors.Round, error) {
	d := ownDecoder{
		round: sensors.Round{Node: node, ClockSet: true, Readings: make([]sensors.Reading, 0, len(records))},
		seen:  make([]string, 0, len(records)),
	}
	base := baseName(room, node)
	for _, r := range records {
		name, ok := strings.CutPrefix(r.name, base)
		if !ok {
			return sensors.Round{}, fmt.Errorf("record %q: this topic is for names that begin with %q", r.name, base)
		}
		if r.time != records[0].time {
			return sensors.Round{}, fmt.Errorf("record %q is of another instant: a round has one", r.name)
		}
		if slices.Contains(d.seen, name) {
			return sensors.Round{}, fmt.Errorf("record %q comes twice", r.name)
		}
		d.seen = append(d.seen, name)
		if err := d.take(name, r); err != nil {
			return sensors.Round{}, fmt.Errorf("record %q: %w", r.name, err)
		}
	}
	return d.finish(room, records[0].time)
}

func (d *ownDecoder) take(name string, r record) error {
	channel, isQuality := strings.CutSuffix(name, qualityTail)
	switch {
	case name == bootName && r.text != nil:
		d.round.Boot = *r.text
	case name == seqName && r.value != nil:
		return d.takeSeq(*r.value)
	case name == uptimeName && r.value != nil:
		return d.takeUptime(*r.value, r.unit)
	case name == clockSetName && r.flag != nil:
		d.round.ClockSet = *r.flag
	case isQuality && r.text != nil:
		return d.takeQuality(channel, *r.text)
	case !isQuality && r.value != nil:
		return d.takeValue(channel, *r.value, r.unit)
	default:
		return fmt.Errorf("a record of this name has no value of this kind")
	}
	return nil
}

func (d *ownDecoder) takeSeq(v float64) error {
	if v < 1 || v > maxSeq || v != math.Trunc(v) {
		return fmt.Errorf("%v is no sequence number: want a whole number from 1 to %d", v, int64(maxSeq))
	}
	d.round.Seq = uint64(v)
	return nil
}

func (d *ownDecoder) takeUptime(v float64, unit string) error {
	if unit != "s" || v < 0 || v > lastAbsolute {
		return fmt.Errorf("%v %q is no uptime: want seconds, none below zero", v, unit)
	}
	d.round.Uptime = time.Duration(math.Round(v*1000)) * time.Millisecond
	return nil
}

// slot returns where the reading of a channel is, which is missing until its
// value comes.
func (d *ownDecoder) slot(name string) (int, error) {
	c, err := sensors.ParseChannel(name)
	if err != nil {
		return 0, err
	}
	if i := slices.IndexFunc(d.round.Readings, func(x sensors.Reading) bool { return x.Channel == c }); i >= 0 {
		return i, nil
	}
	d.round.Readings, d.value = append(d.round.Readings, sensors.Reading{Channel: c}), append(d.value, false)
	return len(d.value) - 1, nil
}

func (d *ownDecoder) takeValue(name string, v float64, unit string) error {
	i, err := d.slot(name)
	if err != nil {
		return err
	}
	reading := &d.round.Readings[i]
	if want := reading.Channel.Quantity.Unit(); unit != want {
		return fmt.Errorf("the unit is %q, want %q", unit, want)
	}
	reading.Value = v
	d.value[i] = true
	return nil
}

func (d *ownDecoder) takeQuality(name, quality string) error {
	i, err := d.slot(name)
	if err != nil {
		return err
	}
	d.round.Readings[i].Quality, err = sensors.ParseQuality(quality)
	return err
}

func (d *ownDecoder) finish(room string, at float64) (sensors.Round, error) {
	for _, name := range []string{bootName, seqName, uptimeName} {
		if !slices.Contains(d.seen, name) {
			return sensors.Round{}, fmt.Errorf("a node's pack needs a record %q", name)
		}
	}
	if len(d.round.Readings) == 0 {
		d.round.Readings = nil
	}
	for i, r := range d.round.Readings {
		if d.value[i] == (r.Quality == sensors.Missing) {
			return sensors.Round{}, fmt.Errorf("channel %s: a value, or the quality missing, and not both", r.Channel)
		}
	}
	if !absolute(at) {
		return sensors.Round{}, fmt.Errorf("the time %v is not a date", at)
	}
	d.round.Time = instant(at)
	return d.round, checkRound(room, d.round)
}

func absolute(at float64) bool { return at >= firstAbsolute && at < lastAbsolute }

func instant(at float64) time.Time { return time.UnixMilli(int64(math.Round(at * 1000))).UTC() }
