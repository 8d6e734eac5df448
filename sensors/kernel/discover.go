package kernel

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"recoat/sensors"
)

// Both subsystems count temperature and humidity in thousandths; IIO counts
// pressure in kilopascals (Linux, Documentation/hwmon/sysfs-interface.rst and
// Documentation/ABI/testing/sysfs-bus-iio).
var (
	hwmonGauges = []gauge{
		{sensors.AirTemperature, "temp1", 1e-3},
		{sensors.AirHumidity, "humidity1", 1e-3},
	}
	iioGauges = []gauge{
		{sensors.AirTemperature, "in_temp", 1e-3},
		{sensors.AirHumidity, "in_humidityrelative", 1e-3},
		{sensors.AirPressure, "in_pressure", 1e3},
	}
)

// Discover returns every sensor below root that Linux drives: surface probes,
// then air sensors. No two give the same channel.
func Discover(root string) ([]sensors.Source, error) {
	probes, err := DiscoverW1(root)
	if err != nil {
		return nil, err
	}
	air, err := DiscoverAir(root)
	if err != nil {
		return nil, err
	}
	var all []sensors.Source
	for _, p := range probes {
		all = append(all, p)
	}
	for _, a := range air {
		all = append(all, a)
	}
	return all, nil
}

// DiscoverAir returns the air sensors of IIO and hwmon, in the order of where
// they are wired, a chip that both show once. A thermometer counts only together
// with humidity: alone it is a processor's or a disk's. A chip with pressure and
// no humidity gives its pressure only.
//
// The first sensor of a quantity has the channel without a probe; the channels
// of another are named by where it is wired, such as "1-0045".
func DiscoverAir(root string) ([]Air, error) {
	iio, err := look(root, "sys/bus/iio/devices", "iio:device", iioGauges)
	if err != nil {
		return nil, err
	}
	hwmon, err := look(root, "sys/class/hwmon", "hwmon", hwmonGauges)
	if err != nil {
		return nil, err
	}
	hwmon = slices.DeleteFunc(hwmon, func(h found) bool {
		return slices.ContainsFunc(iio, func(i found) bool { return i.wired == h.wired })
	})
	return distinguish(append(iio, hwmon...)), nil
}

// found is a device and where it is wired.
type found struct {
	Air
	wired string
}

func look(root, folder, prefix string, gauges []gauge) ([]found, error) {
	dirs, err := children(filepath.Join(root, folder), prefix)
	if err != nil {
		return nil, fmt.Errorf("look for air sensors: %w", err)
	}
	var all []found
	for _, dir := range dirs {
		have := slices.DeleteFunc(slices.Clone(gauges), func(g gauge) bool { return !g.in(dir) })
		if !measures(have, sensors.AirHumidity) {
			have = slices.DeleteFunc(have, func(g gauge) bool { return g.quantity == sensors.AirTemperature })
		}
		if len(have) == 0 {
			continue
		}
		wired := wiring(dir)
		all = append(all, found{Air{dir: dir, name: called(dir) + " at " + wired, gauges: have}, wired})
	}
	return all, nil
}

// children lists the entries of a folder whose names begin with prefix. A folder
// that is not there has none.
func children(folder, prefix string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var dirs []string
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), prefix) {
			dirs = append(dirs, filepath.Join(folder, e.Name()))
		}
	}
	return dirs, nil
}

func measures(gauges []gauge, q sensors.Quantity) bool {
	return slices.ContainsFunc(gauges, func(g gauge) bool { return g.quantity == q })
}

// called returns what the kernel calls the chip. Nothing hangs on the name, so a
// device without one is a sensor all the same.
func called(dir string) string {
	name, err := readText(filepath.Join(dir, "name"))
	if err != nil {
		return "sensor"
	}
	return name
}

// wiring names the place of a device on its bus, such as "1-0076" for address
// 0x76 of bus 1, which stays the same from start to start, as the number in
// "hwmon2" does not. It falls back on that.
func wiring(dir string) string {
	place := filepath.Base(dir)
	if parent, err := filepath.EvalSymlinks(filepath.Join(dir, "device")); err == nil {
		place = filepath.Base(parent)
	} else if real, err := filepath.EvalSymlinks(dir); err == nil && filepath.Dir(real) != filepath.Dir(dir) {
		place = filepath.Base(filepath.Dir(real))
	}
	place = strings.Map(func(r rune) rune {
		if sensors.ValidProbe(string(r)) {
			return r
		}
		return '-'
	}, place)
	return place[:min(len(place), sensors.MaxProbe)]
}

func distinguish(devices []found) []Air {
	sort.Slice(devices, func(i, j int) bool { return devices[i].wired < devices[j].wired })
	taken := map[sensors.Channel]bool{}
	air := make([]Air, len(devices))
	clash := func(c sensors.Channel) bool { return taken[c] }
	for i, d := range devices {
		for n := 1; slices.ContainsFunc(d.Channels(), clash); n++ {
			d.probe = numbered(d.wired, n)
		}
		for _, c := range d.Channels() {
			taken[c] = true
		}
		air[i] = d.Air
	}
	return air
}

// numbered tells a second device at the same place from the first.
func numbered(place string, n int) string {
	if n == 1 {
		return place
	}
	tail := fmt.Sprintf("-%d", n)
	return place[:min(len(place), sensors.MaxProbe-len(tail))] + tail
}
