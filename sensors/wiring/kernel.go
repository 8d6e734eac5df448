package wiring

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"recoat/sensors"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
)

// shown is the guards of sources that the kernel shows, by their names.
type shown struct {
	taken  *channels
	known  map[string]bool
	guards []*poll.Guard
}

// add guards the sources that are not yet, and whose channels nobody has.
func (k *shown) add(sources ...sensors.Source) {
	if k.known == nil {
		k.known = map[string]bool{}
	}
	for _, s := range sources {
		if !k.known[s.Name()] && k.taken.take(s.Channels()) {
			k.known[s.Name()] = true
			k.guards = append(k.guards, poll.NewGuard(poll.Over(s)))
		}
	}
}

// addKernel adds what the kernel drives: its 1-wire bus, and its air sensors.
// Probes may be plugged in at any time and are looked for again; a chip that the
// kernel's driver did not find when it started stays away until the next boot.
func (s *Sensors) addKernel(root string, taken *channels) {
	wire, air := &shown{taken: taken}, &shown{taken: taken}
	s.fail(wire.addProbes(root))
	if hasOneWire(root) {
		if len(wire.guards) == 0 {
			s.fail(errors.New("the kernel drives a 1-wire bus, but no DS18B20 answers on it"))
		}
		s.Buses = append(s.Buses, poll.NewBus(poll.BusConfig{
			Name: "1-wire", Guards: wire.guards,
			Look: func(context.Context) []*poll.Guard {
				_ = wire.addProbes(root) // what cannot be read has nothing new
				return slices.Clone(wire.guards)
			},
		}))
	}
	found, err := kernel.DiscoverAir(root)
	s.fail(err)
	for _, a := range found {
		air.add(a)
	}
	if len(air.guards) > 0 {
		s.Buses = append(s.Buses, poll.NewBus(poll.BusConfig{Name: "kernel", Guards: air.guards}))
	}
}

func (k *shown) addProbes(root string) error {
	probes, err := kernel.DiscoverW1(root)
	for _, p := range probes {
		k.add(p)
	}
	return err
}

// addMachine adds what the machine tells of itself.
func (s *Sensors) addMachine(root string) {
	if m, ok := kernel.DiscoverMachine(root); ok {
		s.Buses = append(s.Buses, poll.NewBus(poll.BusConfig{
			Name: m.Name(), Guards: []*poll.Guard{poll.NewGuard(poll.Over(m))}, Aside: true,
		}))
	}
}

// hasOneWire reports whether the kernel drives a 1-wire bus, with probes or
// without (Linux, Documentation/w1/w1-generic.rst: w1_bus_master<id>).
func hasOneWire(root string) bool {
	entries, err := os.ReadDir(filepath.Join(root, "sys/bus/w1/devices"))
	return err == nil && slices.ContainsFunc(entries, func(e os.DirEntry) bool {
		return strings.HasPrefix(e.Name(), "w1_bus_master") || strings.HasPrefix(e.Name(), "28-")
	})
}
