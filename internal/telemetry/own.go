package telemetry

import (
	"fmt"
	"math"
	"strings"
	"time"

	"recoat/sensors"
)

// ownDecoder gathers the records of one node's round.
type ownDecoder struct {
	round sensors.Round
	seen  map[string]bool
	at    map[sensors.Channel]int  // where in round.Readings
	value map[sensors.Channel]bool // a value came
}

func decodeOwn(room, node string, records []record) (sensors.Round, error) {
	d := ownDecoder{
		round: sensors.Round{Node: node, ClockSet: true},
		seen:  map[string]bool{},
		at:    map[sensors.Channel]int{},
		value: map[sensors.Channel]bool{},
	}
	for _, r := range records {
		name, ok := strings.CutPrefix(r.name, baseName(room, node))
		if !ok {
			return sensors.Round{}, fmt.Errorf("record %q: this topic is for names that begin with %q", r.name, baseName(room, node))
		}
		if r.time != records[0].time {
			return sensors.Round{}, fmt.Errorf("record %q is of another instant: a round has one", r.name)
		}
		if d.seen[name] {
			return sensors.Round{}, fmt.Errorf("record %q comes twice", r.name)
		}
		d.seen[name] = true
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

// slot returns the reading of a channel, which is missing until its value
// comes.
func (d *ownDecoder) slot(name string) (*sensors.Reading, error) {
	c, err := sensors.ParseChannel(name)
	if err != nil {
		return nil, err
	}
	i, ok := d.at[c]
	if !ok {
		i = len(d.round.Readings)
		d.at[c] = i
		d.round.Readings = append(d.round.Readings, sensors.Reading{Channel: c})
	}
	return &d.round.Readings[i], nil
}

func (d *ownDecoder) takeValue(name string, v float64, unit string) error {
	reading, err := d.slot(name)
	if err != nil {
		return err
	}
	if want := reading.Channel.Quantity.Unit(); unit != want {
		return fmt.Errorf("the unit is %q, want %q", unit, want)
	}
	reading.Value = v
	d.value[reading.Channel] = true
	return nil
}

func (d *ownDecoder) takeQuality(name, quality string) error {
	reading, err := d.slot(name)
	if err != nil {
		return err
	}
	reading.Quality, err = sensors.ParseQuality(quality)
	return err
}

func (d *ownDecoder) finish(room string, at float64) (sensors.Round, error) {
	for _, name := range []string{bootName, seqName, uptimeName} {
		if !d.seen[name] {
			return sensors.Round{}, fmt.Errorf("a node's pack needs a record %q", name)
		}
	}
	for _, r := range d.round.Readings {
		if d.value[r.Channel] == (r.Quality == sensors.Missing) {
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
