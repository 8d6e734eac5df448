package doctor

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// Buses looks for the buses that sensors can be on, below root, and whether user
// may use them.
func Buses(root string, user User) []Finding {
	m := machine(root)
	all := m.i2c(user)
	all = append(all, m.drivers()...)
	return append(all, m.oneWire())
}

// i2c: the kernel shows each bus in sys/class/i2c-adapter, and the module i2c-dev
// makes a device file of it (Linux, Documentation/i2c/dev-interface.rst).
func (m machine) i2c(user User) []Finding {
	devices := m.entries("dev", "i2c-")
	if len(devices) > 0 {
		var all []Finding
		for _, d := range devices {
			all = append(all, m.device("/dev/"+d, user))
		}
		return all
	}
	if adapters := m.entries("sys/class/i2c-adapter", "i2c-"); len(adapters) > 0 {
		return []Finding{{"bus", NotOK, fmt.Sprintf("the kernel has %s, but /dev shows no bus", strings.Join(adapters, ", ")),
			"load the module: sudo modprobe i2c-dev, and for every start: echo i2c-dev | sudo tee /etc/modules-load.d/i2c.conf"}}
	}
	return []Finding{{"bus", NotThere, "no I²C bus", "for chips on I²C put dtparam=i2c_arm=on into /boot/firmware/config.txt and start the Pi again; for surface probes alone none is needed"}}
}

func (m machine) device(path string, user User) Finding {
	err := user.mayUse(m.path(path))
	switch {
	case err == nil:
		return Finding{"bus", OK, path + " may be used", ""}
	case !errors.Is(err, fs.ErrPermission):
		return Finding{"bus", NotOK, err.Error(), "look at the kernel's messages: sudo dmesg | grep -i i2c"}
	}
	group := m.groupOf(path)
	return Finding{"bus", NotOK, fmt.Sprintf("%s is for the group %s, and %s is not in it", path, group, user.Name),
		fmt.Sprintf("sudo usermod -aG %s %s, then log in again, or start the service again", group, user.Name)}
}

// groupOf names the group of a file, by etc/group below the root.
func (m machine) groupOf(path string) string {
	info, err := os.Stat(m.path(path))
	if err != nil {
		return "i2c"
	}
	stat, is := info.Sys().(*syscall.Stat_t)
	if !is {
		return "i2c"
	}
	return m.groupName(stat.Gid)
}

// drivers lists the chips that a driver of the kernel's has hold of. What is on
// such an address is read by way of the kernel, and by nobody else.
func (m machine) drivers() []Finding {
	var all []Finding
	for _, place := range m.entries("sys/bus/i2c/devices", "") {
		link, err := os.Readlink(m.path(filepath.Join("sys/bus/i2c/devices", place, "driver")))
		if err != nil {
			continue
		}
		name := m.text(filepath.Join("sys/bus/i2c/devices", place, "name"))
		all = append(all, Finding{"driver", OK, fmt.Sprintf("the kernel's driver %s has %s at %s: it is read by way of the kernel", filepath.Base(link), name, place), ""})
	}
	return all
}

// oneWire: Linux, Documentation/w1/w1-generic.rst.
func (m machine) oneWire() Finding {
	masters := m.entries("sys/bus/w1/devices", "w1_bus_master")
	probes := m.entries("sys/bus/w1/devices", "28-")
	if len(masters)+len(probes) == 0 {
		return Finding{"1-wire", NotThere, "no 1-wire bus", "for surface probes put dtoverlay=w1-gpio into /boot/firmware/config.txt and start the Pi again"}
	}
	ghosts := m.entries("sys/bus/w1/devices", "00-")
	switch {
	case len(ghosts) > 0:
		return Finding{"1-wire", NotOK, fmt.Sprintf("%d probes without a proper code: the data wire floats", len(ghosts)),
			"a resistor of 4.7 kΩ belongs between the data wire and 3.3 V"}
	case len(probes) == 0:
		return Finding{"1-wire", NotOK, "a bus without a surface probe", "check the three wires of the probe, and the resistor of 4.7 kΩ between data and 3.3 V"}
	}
	return Finding{"1-wire", OK, fmt.Sprintf("surface probes: %s", strings.Join(probes, ", ")), ""}
}
