package telemetry

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/mainflux/senml"

	"recoat/sensors"
)

const (
	// firstAbsolute is the least SenML time that is a date, in seconds;
	// anything below counts from now (RFC 8428, section 4.5.3).
	firstAbsolute = 1 << 28
	// lastAbsolute is where this project stops believing a date, in the
	// year 2242.
	lastAbsolute = 1 << 33
	// maxSeq is the greatest whole number up to which JSON's numbers have no
	// gaps.
	maxSeq  = 1<<53 - 1
	maxBoot = 64
)

// The names, below the node's base name, of what is not a reading.
const (
	bootName     = "boot"
	seqName      = "seq"
	uptimeName   = "uptime"
	clockSetName = "clock-set"
	qualityTail  = "/quality"
)

func baseName(room, node string) string { return topicRoot + room + "/" + node + "/" }

// EncodeRound writes a node's round as a SenML pack. Values are rounded to the
// step of their quantity, times to the millisecond. A clock that was never set
// and stands before 1978-07-04, where SenML dates begin, is written as that
// date plus the uptime.
func EncodeRound(room string, r sensors.Round) ([]byte, error) {
	if err := checkRound(room, r); err != nil {
		return nil, fmt.Errorf("encode a round: %w", err)
	}
	number := func(v float64) *float64 { return &v }
	pack := senml.Pack{Records: []senml.Record{
		{BaseName: baseName(room, r.Node), BaseTime: seconds(packTime(r)), Name: bootName, StringValue: &r.Boot},
		{Name: seqName, Value: number(float64(r.Seq))},
		{Name: uptimeName, Unit: "s", Value: number(seconds(r.Uptime.Round(time.Millisecond).Milliseconds()))},
	}}
	if !r.ClockSet {
		pack.Records = append(pack.Records, senml.Record{Name: clockSetName, BoolValue: &r.ClockSet})
	}
	for _, reading := range r.Readings {
		pack.Records = append(pack.Records, encodeReading(reading)...)
	}
	// The library's own Encode does this, and links XML and CBOR with it.
	payload, err := json.Marshal(pack.Records)
	if err != nil {
		return nil, fmt.Errorf("encode a round: %w", err)
	}
	return payload, nil
}

func encodeReading(r sensors.Reading) []senml.Record {
	var records []senml.Record
	name, q := r.Channel.String(), r.Channel.Quantity
	if r.Quality != sensors.Missing {
		value := q.FromSteps(q.Steps(r.Value))
		records = append(records, senml.Record{Name: name, Unit: q.Unit(), Value: &value})
	}
	if r.Quality != sensors.Good {
		quality := r.Quality.String()
		records = append(records, senml.Record{Name: name + qualityTail, StringValue: &quality})
	}
	return records
}

func seconds(ms int64) float64 { return float64(ms) / 1000 }

func packTime(r sensors.Round) int64 {
	if r.ClockSet {
		return r.Time.Round(time.Millisecond).UnixMilli()
	}
	return Unset(r.Time, r.Uptime).Round(time.Millisecond).UnixMilli()
}

// Unset is what a clock that was never set shows as it goes over the wire: its
// time or, where that is before the first date of SenML, that date plus the
// uptime.
func Unset(wall time.Time, uptime time.Duration) time.Time {
	if first := time.Unix(firstAbsolute, 0).UTC(); wall.Before(first) {
		return first.Add(uptime)
	}
	return wall
}

func checkRound(room string, r sensors.Round) error {
	if err := checkNames(room, r.Node); err != nil {
		return err
	}
	if err := checkIdentity(r); err != nil {
		return err
	}
	if err := checkDate(packTime(r)); err != nil {
		return err
	}
	return checkReadings(r.Readings)
}

func checkDate(ms int64) error {
	if ms < firstAbsolute*1000 || ms >= lastAbsolute*1000 {
		return fmt.Errorf("the time %s cannot be written: want a date from 1978-07-05 to 2242", time.UnixMilli(ms).UTC().Format(time.RFC3339))
	}
	return nil
}

func checkIdentity(r sensors.Round) error {
	switch {
	case !validBoot(r.Boot):
		return fmt.Errorf("the boot is named %q: want 1 to %d letters, digits or '-'", r.Boot, maxBoot)
	case r.Seq < 1 || r.Seq > maxSeq:
		return fmt.Errorf("sequence number %d: want 1 to %d", r.Seq, int64(maxSeq))
	case r.Uptime < 0:
		return fmt.Errorf("the uptime is %s: want none below zero", r.Uptime)
	}
	return nil
}

func checkReadings(readings []sensors.Reading) error {
	if len(readings) > MaxChannels {
		return fmt.Errorf("the round has %d channels: at most %d", len(readings), MaxChannels)
	}
	for i, r := range readings {
		if err := checkReading(r); err != nil {
			return err
		}
		if slices.ContainsFunc(readings[:i], func(x sensors.Reading) bool { return x.Channel == r.Channel }) {
			return fmt.Errorf("channel %s comes twice in one round", r.Channel)
		}
	}
	return nil
}

func checkReading(r sensors.Reading) error {
	if c := r.Channel; c.Quantity.Step() == 0 || c.Probe != "" && !sensors.ValidProbe(c.Probe) {
		_, err := sensors.ParseChannel(c.String())
		return err
	}
	if r.Quality > sensors.Missing {
		return fmt.Errorf("channel %s: no such quality as %s", r.Channel, r.Quality)
	}
	if r.Quality != sensors.Missing && !r.Channel.Quantity.Possible(r.Value) {
		return fmt.Errorf("channel %s: %v %s cannot be meant", r.Channel, r.Value, r.Channel.Quantity.Unit())
	}
	return nil
}

func validBoot(s string) bool {
	if s == "" || len(s) > maxBoot {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

// DecodePack reads what was published on the readings topic of a room and
// node. A node's own pack gives one round; any other SenML pack gives a round
// per instant, with an empty Boot and the instant in Unix milliseconds as Seq.
// Times that count from now count from received. An error says what is wrong
// with the pack; nothing of a refused pack is returned.
func DecodePack(room, node string, payload []byte, received time.Time) ([]sensors.Round, error) {
	if err := checkNames(room, node); err != nil {
		return nil, err
	}
	records, err := parseRecords(payload)
	if err != nil {
		return nil, err
	}
	if len(records) == 0 {
		return nil, errors.New("the pack holds no value")
	}
	for _, r := range records {
		if strings.HasPrefix(r.name, topicRoot) {
			round, err := decodeOwn(room, node, records)
			if err != nil {
				return nil, err
			}
			return []sensors.Round{round}, nil
		}
	}
	return decodeForeign(node, records, received)
}
