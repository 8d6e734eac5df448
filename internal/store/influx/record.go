package influx

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// spanBits: a span is this many bits of seq, 4096 rounds. Within it a round is
// known by the nanoseconds that its time in milliseconds leaves free, so that
// one series and instant belong to one round of a boot.
const spanBits = 12

func spanOf(seq uint64) uint64 { return seq >> spanBits }

// foreign is the boot's tag of a device that has none; no escaped name is it.
const foreign = "%"

// escape writes a name with letters, digits and -_.~+% alone, which mean
// nothing in the line protocol nor between quotes in Flux.
func escape(name string) string { return url.QueryEscape(name) }

func unescape(tag string) (string, error) {
	name, err := url.QueryUnescape(tag)
	if err != nil {
		return "", fmt.Errorf("%w: the tag %q: %w", store.ErrDamaged, tag, err)
	}
	return name, nil
}

func bootTag(boot string) string {
	if boot == "" {
		return foreign
	}
	return escape(boot)
}

// stamp returns the instant under which a round is kept.
func stamp(r sensors.Round) time.Time {
	t := time.UnixMilli(r.Time.UnixMilli()).UTC()
	if r.Boot == "" {
		return t
	}
	return t.Add(time.Duration(r.Seq & (1<<spanBits - 1)))
}

// encode writes all of a canonical round that tags and instant do not say:
// version, seq, uptime in milliseconds, whether the clock was set, then each
// channel with its value in steps and its quality.
func encode(r sensors.Round) string {
	var b strings.Builder
	clock := 0
	if r.ClockSet {
		clock = 1
	}
	fmt.Fprintf(&b, "1 %d %d %d", r.Seq, r.Uptime.Milliseconds(), clock)
	for _, x := range r.Readings {
		fmt.Fprintf(&b, " %s=%d", x.Channel, x.Channel.Quantity.Steps(x.Value))
		if x.Quality != sensors.Good {
			fmt.Fprintf(&b, ",%s", x.Quality)
		}
	}
	return b.String()
}

const headWords = 4

// decode is the inverse of encode into a round whose node, boot and time are
// known. The error is store.ErrDamaged.
func decode(r *sensors.Round, data string) error {
	words := strings.Split(data, " ")
	if len(words) < headWords || len(words) > headWords+store.MaxReadings || words[0] != "1" {
		return fmt.Errorf("%w: a round is not in the form known here", store.ErrDamaged)
	}
	seq, err1 := strconv.ParseUint(words[1], 10, 64)
	up, err2 := strconv.ParseInt(words[2], 10, 64)
	if err := errors.Join(err1, err2); err != nil || seq > store.MaxSeq || up < 0 || up > int64(maxUptime/time.Millisecond) || words[3] != "0" && words[3] != "1" {
		return fmt.Errorf("%w: a round's head reads %q", store.ErrDamaged, strings.Join(words[:headWords], " "))
	}
	r.Seq, r.Uptime, r.ClockSet, r.Readings = seq, time.Duration(up)*time.Millisecond, words[3] == "1", nil
	for _, w := range words[headWords:] {
		x, err := decodeReading(w)
		if err != nil {
			return fmt.Errorf("%w: the reading %q: %w", store.ErrDamaged, w, err)
		}
		r.Readings = append(r.Readings, x)
	}
	return nil
}

const maxUptime = time.Duration(1<<63 - 1)

func decodeReading(word string) (x sensors.Reading, err error) {
	channel, value, found := strings.Cut(word, "=")
	if !found {
		return x, errors.New("it has no value")
	}
	if x.Channel, err = sensors.ParseChannel(channel); err != nil {
		return x, err
	}
	number, quality, marked := strings.Cut(value, ",")
	if marked {
		if x.Quality, err = sensors.ParseQuality(quality); err != nil {
			return x, err
		}
	}
	steps, err := strconv.ParseInt(number, 10, 64)
	if err != nil {
		return x, err
	}
	if steps > store.MaxSteps || steps < -store.MaxSteps {
		return x, fmt.Errorf("%d is out of bounds", steps)
	}
	if x.Quality != sensors.Missing {
		x.Value = x.Channel.Quantity.FromSteps(steps)
	}
	return x, nil
}
