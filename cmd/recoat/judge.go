package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"recoat/sensors"
	"recoat/sensors/plausible"
	"recoat/sensors/wiring"
)

// How far two sensors in the same air may move apart, beyond what separated them
// at first, before neither is believed (common practice, no source). The hub
// tells of less than that.
const (
	twinHumidity = 5.0 // %
	twinAir      = 1.5 // K
)

// warmConfig is a chip that its own board keeps warmer than the air.
type warmConfig struct {
	Probe string  `toml:"probe"`
	By    float64 `toml:"by"`
}

func (c warmConfig) warm() plausible.Warm {
	return plausible.Warm{
		Temperature: sensors.Channel{Quantity: sensors.AirTemperature, Probe: c.Probe},
		Humidity:    sensors.Channel{Quantity: sensors.AirHumidity, Probe: c.Probe},
		Excess:      sensors.Kelvins(c.By),
	}
}

// twinsOf pairs the first sensor of the air's temperature and humidity with each
// other one.
func twinsOf(list []sensors.Channel) []plausible.Twin {
	first := map[sensors.Quantity]sensors.Channel{}
	var twins []plausible.Twin
	for _, c := range list {
		limit := map[sensors.Quantity]float64{sensors.AirTemperature: twinAir, sensors.AirHumidity: twinHumidity}[c.Quantity]
		if limit == 0 {
			continue
		}
		if _, known := first[c.Quantity]; !known {
			first[c.Quantity] = c
			continue
		}
		twins = append(twins, plausible.Twin{First: first[c.Quantity], Second: c, Limit: limit})
	}
	return twins
}

func channelsOf(found wiring.Sensors) []sensors.Channel {
	var all []sensors.Channel
	for _, w := range found.List() {
		all = append(all, w.Channels...)
	}
	return all
}

// offsets are what separates twins, as learnt, by "first second".
type offsets map[string]float64

func (o offsets) key(t plausible.Twin) string { return t.First.String() + " " + t.Second.String() }

// readOffsets reads what was learnt in an earlier run; a file that is not there
// or cannot be read has taught nothing.
func readOffsets(path string) (offsets, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return offsets{}, nil
	}
	if err != nil {
		return offsets{}, fmt.Errorf("what the twin sensors taught: %w", err)
	}
	o, err := decodeOffsets(f)
	if err = errors.Join(err, f.Close()); err != nil {
		return offsets{}, fmt.Errorf("what the twin sensors taught: %w", err)
	}
	return o, nil
}

// largestOffsets is how many bytes of the file are read: a line for each pair.
const largestOffsets = 64 << 10

func decodeOffsets(r io.Reader) (offsets, error) {
	text, err := io.ReadAll(io.LimitReader(r, largestOffsets))
	if err != nil {
		return nil, err
	}
	o := offsets{}
	if err := json.Unmarshal(text, &o); err != nil {
		return nil, err
	}
	if o == nil { // the file says null
		o = offsets{}
	}
	return o, nil
}

// write replaces the file in one step, so that a cut of the supply leaves the old
// one or the new.
func (o offsets) write(path string) error {
	text, err := json.MarshalIndent(o, "", " ")
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

// judge lowers the quality of what cannot be, and keeps what the twins teach it.
type judge struct {
	*plausible.Judge
	twins []plausible.Twin
	known offsets
	path  string
	log   *slog.Logger
}

func newJudge(cfg sensorsConfig, found wiring.Sensors, path string, log *slog.Logger) (*judge, error) {
	known, err := readOffsets(path)
	if err != nil {
		log.Warn("the twin sensors are learnt anew", "reason", err)
	}
	j := &judge{twins: twinsOf(channelsOf(found)), known: known, path: path, log: log}
	for i := range j.twins {
		t := &j.twins[i]
		t.Offset, t.Known = known[known.key(*t)], hasKey(known, known.key(*t))
	}
	var warm []plausible.Warm
	for _, w := range cfg.Warm {
		warm = append(warm, w.warm())
	}
	j.Judge, err = plausible.New(plausible.Config{Limits: plausible.Usual(), Warm: warm, Twins: j.twins})
	return j, err
}

func hasKey(o offsets, key string) bool {
	_, has := o[key]
	return has
}

// check judges a round, and writes an offset down once it is learnt.
func (j *judge) check(at time.Duration, readings []sensors.Reading) []sensors.Reading {
	judged := j.Check(at, readings)
	for i, t := range j.twins {
		offset, learnt := j.Learnt(i)
		if !learnt || hasKey(j.known, j.known.key(t)) {
			continue
		}
		j.known[j.known.key(t)] = offset
		if err := j.known.write(j.path); err != nil {
			j.log.Error("write down what the twin sensors taught", "error", err)
		}
	}
	return judged
}
