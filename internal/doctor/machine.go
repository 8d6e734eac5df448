package doctor

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"

	"recoat/sensors"
	"recoat/sensors/kernel"
)

// Machine looks at the machine itself below root: what it is, its battery clock,
// its supply and heat, and its card.
func Machine(root string) []Finding {
	m := machine(root)
	return append([]Finding{m.model(), m.rtc(), m.supply(), m.heat()}, m.cards()...)
}

func (m machine) model() Finding {
	name := m.text("proc/device-tree/model")
	if name == "" {
		return Finding{"machine", OK, "not a board with a device tree", ""}
	}
	return Finding{"machine", OK, name, ""}
}

// rtc: Linux, Documentation/ABI/testing/sysfs-class-rtc: hctosys is 1 for the
// clock that the kernel set its time from at the start.
func (m machine) rtc() Finding {
	clocks := m.entries("sys/class/rtc", "rtc")
	if len(clocks) == 0 {
		return Finding{"battery clock", NotThere, "none: without a network the time is wrong after every start",
			"it may be left out, as readings get their right times once the clock is set; a DS3231 with dtoverlay=i2c-rtc,ds3231 does better"}
	}
	for _, c := range clocks {
		name := m.text(filepath.Join("sys/class/rtc", c, "name"))
		if m.text(filepath.Join("sys/class/rtc", c, "hctosys")) == "1" {
			return Finding{"battery clock", OK, fmt.Sprintf("%s set the time at the start", name), ""}
		}
	}
	return Finding{"battery clock", NotOK, "there is one, but the time was not set from it", "put a cell into it, set it with: sudo hwclock --systohc, and start the machine again"}
}

func (m machine) supply() Finding {
	const do = "use a supply of 5.1 V and at least 2.5 A with a short, thick cable: too little is behind half of all odd sensor faults"
	firmware, err := kernel.ReadThrottled(string(m))
	if err == nil {
		return supplyBy(firmware, do)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return Finding{"supply", NotOK, err.Error(), "look at it with: vcgencmd get_throttled"}
	}
	if v, found := m.tells(sensors.Undervoltage); found {
		return supplyBy(kernel.Throttled{Undervoltage: v > 0}, do)
	}
	return Finding{"supply", NotThere, "this machine does not tell", ""}
}

func supplyBy(t kernel.Throttled, do string) Finding {
	var now, once []string
	for _, x := range []struct {
		now, once bool
		what      string
	}{
		{t.Undervoltage, t.UndervoltageOnce, "too few volts"}, {t.Capped, t.CappedOnce, "held to a lower speed"},
		{t.Slowed, t.SlowedOnce, "slowed down"}, {t.Hot, t.HotOnce, "near its limit of heat"},
	} {
		if x.now {
			now = append(now, x.what)
		} else if x.once {
			once = append(once, x.what)
		}
	}
	switch {
	case len(now) > 0:
		return Finding{"supply", NotOK, "now: " + strings.Join(now, ", "), do}
	case len(once) > 0:
		return Finding{"supply", NotOK, "since the start: " + strings.Join(once, ", "), do}
	}
	return Finding{"supply", OK, "enough volts, full speed, since the start", ""}
}

// hot is where a Pi begins to slow down, in °C (its documentation, "frequency
// management and thermal control": 80 °C; from memory).
const hot = 80

func (m machine) heat() Finding {
	v, found := m.tells(sensors.BoardTemperature)
	detail := fmt.Sprintf("processor at %.0f °C", v)
	switch {
	case !found:
		return Finding{"heat", NotThere, "this machine does not tell", ""}
	case v >= hot:
		return Finding{"heat", NotOK, detail, "give it air, and keep it away from the heater: at 80 °C it slows down"}
	}
	return Finding{"heat", OK, detail, ""}
}

// tells is what the machine says of itself by a channel.
func (m machine) tells(q sensors.Quantity) (v float64, found bool) {
	source, ok := kernel.DiscoverMachine(string(m))
	if !ok {
		return 0, false
	}
	readings, err := source.Read(context.Background())
	if err != nil {
		return 0, false
	}
	for _, r := range readings {
		if r.Channel.Quantity == q {
			return r.Value, true
		}
	}
	return 0, false
}

// cards looks at each card or chip of memory: what it has worn, where it tells,
// and what its file systems have met with.
func (m machine) cards() []Finding {
	var all []Finding
	for _, disk := range m.entries("sys/block", "mmcblk") {
		if strings.Contains(disk, "boot") || strings.Contains(disk, "rpmb") {
			continue // parts of a chip that is listed already
		}
		all = append(all, m.wear(disk))
	}
	for _, fs := range m.entries("sys/fs/ext4", "") {
		if f, telling := m.fileSystem(fs); telling {
			all = append(all, f)
		}
	}
	if len(all) == 0 {
		return []Finding{{"card", NotThere, "this machine has no card, or none that tells", ""}}
	}
	return all
}

// wear: Linux, Documentation/driver-api/mmc/mmc-dev-attrs.rst: life_time is two
// numbers in steps of a tenth of the life, pre_eol_info is 2 or 3 near the end
// (JEDEC JESD84-B51, sections 7.4.36 to 7.4.38). SD cards have neither.
func (m machine) wear(disk string) Finding {
	dir := filepath.Join("sys/block", disk, "device")
	name := strings.TrimSpace(disk + " " + m.text(filepath.Join(dir, "name")))
	fields := strings.Fields(m.text(filepath.Join(dir, "life_time")))
	if len(fields) == 0 {
		return Finding{"card", NotThere, name + " does not tell its wear, as no SD card does", "keep a spare card and a backup: recoat journal backup"}
	}
	worst, err := worstOf(fields)
	if err != nil {
		return Finding{"card", NotOK, fmt.Sprintf("%s says %q of its life", name, strings.Join(fields, " ")), "look at it with: mmc extcsd read /dev/" + disk}
	}
	detail := fmt.Sprintf("%s has used up to %d %% of its life", name, min(worst*10, 100))
	if end := m.text(filepath.Join(dir, "pre_eol_info")); worst >= 9 || end == "0x02" || end == "0x03" {
		return Finding{"card", NotOK, detail, "change it soon, and keep a backup: recoat journal backup"}
	}
	return Finding{"card", OK, detail, ""}
}

// worstOf is the greatest of some bytes in hexadecimal.
func worstOf(fields []string) (worst uint64, err error) {
	for _, f := range fields {
		n, err := strconv.ParseUint(strings.TrimPrefix(f, "0x"), 16, 8)
		if err != nil {
			return 0, err
		}
		worst = max(worst, n)
	}
	return worst, nil
}

// fileSystem: Linux, Documentation/ABI/testing/sysfs-fs-ext4.
func (m machine) fileSystem(name string) (f Finding, telling bool) {
	dir := filepath.Join("sys/fs/ext4", name)
	kilobytes, err := strconv.ParseUint(m.text(filepath.Join(dir, "lifetime_write_kbytes")), 10, 64)
	if err != nil {
		return Finding{}, false
	}
	detail := fmt.Sprintf("%s has been written %.1f GB in its life", name, float64(kilobytes)*1024/1e9)
	if errs := m.text(filepath.Join(dir, "errors_count")); errs != "" && errs != "0" {
		return Finding{"card", NotOK, fmt.Sprintf("%s; it has met with %s errors", detail, errs), "keep a backup, check it with e2fsck from another machine, and change the card"}, true
	}
	return Finding{"card", OK, detail, ""}, true
}
