package kernel

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"recoat/sensors"
)

// Machine is what the kernel tells of the machine itself: how warm its processor
// is and whether its supply is too low. It is a sensors.Source.
type Machine struct {
	thermal string // file of the processor's temperature, in thousandths of a degree; empty: none
	alarm   string // file that holds 1 while the supply is too low; empty: none
	root    string
}

// DiscoverMachine returns what the kernel below root tells of the machine, and
// whether it tells anything.
//
// The temperature is the thermal zone that calls itself the processor's, "cpu"
// somewhere in its type (Linux, Documentation/driver-api/thermal/sysfs-api.rst).
// The supply is in0_lcrit_alarm of the driver rpi_volt (Documentation/hwmon/
// raspberrypi-hwmon.rst), which older kernels lack, and then bit 0 of what the
// firmware says.
func DiscoverMachine(root string) (Machine, bool) {
	m := Machine{root: root}
	m.thermal = first(root, "sys/class/thermal", "thermal_zone", func(dir string) string {
		if kind, err := readText(filepath.Join(dir, "type")); err == nil && strings.Contains(kind, "cpu") {
			return filepath.Join(dir, "temp")
		}
		return ""
	})
	m.alarm = first(root, "sys/class/hwmon", "hwmon", func(dir string) string {
		if called(dir) == "rpi_volt" {
			return filepath.Join(dir, "in0_lcrit_alarm")
		}
		return ""
	})
	return m, len(m.Channels()) > 0
}

// first returns the first file that pick names among the entries of a folder.
func first(root, folder, prefix string, pick func(dir string) string) string {
	dirs, err := children(filepath.Join(root, folder), prefix)
	if err != nil {
		return ""
	}
	for _, dir := range dirs {
		if path := pick(dir); path != "" && exists(path) {
			return path
		}
	}
	return ""
}

// Name says which source this is.
func (m Machine) Name() string { return "this machine" }

// Channels lists what the machine tells of itself.
func (m Machine) Channels() []sensors.Channel {
	var all []sensors.Channel
	if m.thermal != "" {
		all = append(all, sensors.Channel{Quantity: sensors.BoardTemperature})
	}
	if m.alarm != "" || exists(filepath.Join(m.root, throttledFile)) {
		all = append(all, sensors.Channel{Quantity: sensors.Undervoltage})
	}
	return all
}

// Read reads the files. One that fails hides not the other.
func (m Machine) Read(context.Context) ([]sensors.Reading, error) {
	var readings []sensors.Reading
	var wrong []error
	for _, c := range m.Channels() {
		v, err := m.value(c.Quantity)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		readings = append(readings, sensors.Reading{Channel: c, Value: v})
	}
	if len(readings) == 0 {
		return nil, fmt.Errorf("read %s: %w", m.Name(), errors.Join(wrong...))
	}
	return readings, nil
}

func (m Machine) value(q sensors.Quantity) (float64, error) {
	switch {
	case q == sensors.BoardTemperature:
		v, err := readNumber(m.thermal)
		return v / 1000, err
	case m.alarm != "":
		v, err := readNumber(m.alarm)
		if err == nil && v != 0 && v != 1 {
			err = fmt.Errorf("%s holds %v, not 0 or 1", m.alarm, v)
		}
		return v, err
	}
	t, err := ReadThrottled(m.root)
	if err == nil && t.Undervoltage {
		return 1, nil
	}
	return 0, err
}

// throttledFile is the firmware's word on supply and heat, where the Pi's kernel
// shows it.
const throttledFile = "sys/devices/platform/soc/soc:firmware/get_throttled"

// Throttled is what the firmware of a Pi says of its supply and its heat, now
// and since it started.
type Throttled struct {
	Undervoltage, Capped, Slowed, Hot                 bool
	UndervoltageOnce, CappedOnce, SlowedOnce, HotOnce bool
}

// ReadThrottled reads the firmware's word below root: a number in hexadecimal
// whose bits 0 to 3 say what is, and 16 to 19 what has been since the start
// (the Pi's documentation of vcgencmd get_throttled).
func ReadThrottled(root string) (Throttled, error) {
	text, err := readText(filepath.Join(root, throttledFile))
	if err != nil {
		return Throttled{}, err
	}
	t, err := parseThrottled(text)
	if err != nil {
		return Throttled{}, fmt.Errorf("%s %w", throttledFile, err)
	}
	return t, nil
}

func parseThrottled(text string) (Throttled, error) {
	bits, err := strconv.ParseUint(strings.TrimPrefix(text, "0x"), 16, 32)
	if err != nil {
		return Throttled{}, fmt.Errorf("holds %.40q, not a number in hexadecimal", text)
	}
	bit := func(n int) bool { return bits>>n&1 == 1 }
	return Throttled{
		Undervoltage: bit(0), Capped: bit(1), Slowed: bit(2), Hot: bit(3),
		UndervoltageOnce: bit(16), CappedOnce: bit(17), SlowedOnce: bit(18), HotOnce: bit(19),
	}, nil
}
