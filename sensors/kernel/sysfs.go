package kernel

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"recoat/sensors"
)

// gauge is one quantity of a device: where its value stands and what one of the
// file's units is in the quantity's own.
type gauge struct {
	quantity sensors.Quantity
	stem     string // the file's name up to "_input"
	unit     float64
}

// Air is a humidity, temperature or pressure sensor that the kernel's hwmon or
// IIO subsystem shows. It is a sensors.Source.
type Air struct {
	dir    string
	name   string
	probe  string
	gauges []gauge
}

// Name says which device this is, such as "sht3x at hwmon2".
func (a Air) Name() string { return a.name }

// Channels lists what the device measures.
func (a Air) Channels() []sensors.Channel {
	list := make([]sensors.Channel, len(a.gauges))
	for i, g := range a.gauges {
		list[i] = sensors.Channel{Quantity: g.quantity, Probe: a.probe}
	}
	return list
}

// Read reads each of the device's files. It fails if one of them does: a chip
// that answers in part is not to be trusted with the rest.
func (a Air) Read(ctx context.Context) ([]sensors.Reading, error) {
	var readings []sensors.Reading
	for i, c := range a.Channels() {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("read %s: %w", a.name, err)
		}
		v, err := a.gauges[i].read(a.dir)
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", a.name, err)
		}
		readings = append(readings, sensors.Reading{Channel: c, Value: v})
	}
	return readings, nil
}

func (g gauge) in(dir string) bool {
	return exists(filepath.Join(dir, g.stem+"_input")) || exists(filepath.Join(dir, g.stem+"_raw"))
}

// read returns the device's value in the quantity's unit. Below 1 % a humidity is
// refused: some drivers give per cent where the kernel's rules ask for thousandths.
func (g gauge) read(dir string) (float64, error) {
	v, err := g.stated(dir)
	if err != nil {
		return 0, err
	}
	v *= g.unit
	if g.quantity == sensors.AirHumidity && v < 1 {
		return 0, fmt.Errorf("%s gives a humidity of %g %%, less than any room's: does its driver count in per cent instead of thousandths?", g.stem, v)
	}
	return v, nil
}

// stated returns the number in _input or, where the driver leaves the sum to the
// reader, (_raw + _offset) * _scale (Linux, Documentation/ABI/testing/
// sysfs-bus-iio). A missing offset is 0, a missing scale 1.
func (g gauge) stated(dir string) (float64, error) {
	path := filepath.Join(dir, g.stem)
	if exists(path + "_input") {
		return readNumber(path + "_input")
	}
	raw, errRaw := readNumber(path + "_raw")
	offset, errOffset := readOr(path+"_offset", 0)
	scale, errScale := readOr(path+"_scale", 1)
	return (raw + offset) * scale, errors.Join(errRaw, errOffset, errScale)
}

func readOr(path string, otherwise float64) (float64, error) {
	if !exists(path) {
		return otherwise, nil
	}
	return readNumber(path)
}
