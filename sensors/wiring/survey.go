package wiring

import (
	"fmt"
	"slices"
	"strings"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/poll"
)

// survey looks for chips on one bus after another.
type survey struct {
	emissivity float64
	skip       map[uint16]bool // addresses not to be asked
	taken      channels
}

// on guards every known chip that answers on a bus. place, unless empty, tells
// the bus from others in the names of channels.
func (v *survey) on(bus i2c.Bus, place string) []*poll.Guard {
	emissivity := v.emissivity
	if emissivity == 0 {
		emissivity = chip.Emissivity
	}
	var guards []*poll.Guard
	found := map[uint16]bool{}
	for _, k := range chip.Kinds(emissivity) {
		for _, addr := range k.Addresses {
			if v.skip[addr] || found[addr] || !k.Answers(bus, addr) {
				continue
			}
			found[addr] = true
			guards = append(guards, v.guard(k, bus, addr, place))
		}
	}
	if place == "" {
		for addr := range found {
			v.skip[addr] = true // it answers on every port of a multiplexer as well
		}
	}
	return guards
}

// behind guards the chips behind port n of a multiplexer.
func (v *survey) behind(port i2c.Bus, n int) []*poll.Guard {
	return v.on(port, fmt.Sprintf("-%d", n))
}

func (v *survey) guard(k chip.Kind, bus i2c.Bus, addr uint16, place string) *poll.Guard {
	probe := ""
	if slices.ContainsFunc(k.Channels, v.needsName) {
		probe = wired(bus, addr) + place
	}
	v.taken.take(named(k.Channels, probe))
	return guard(probe, poll.GuardConfig{
		Name:     chip.Name(k.Name, bus.String(), addr),
		Channels: k.Channels,
		Deadline: k.Deadline,
		Open:     func() (sensors.Source, error) { return k.Open(bus, addr, bus.String()) },
	})
}

// needsName reports whether a channel has to say which sensor it is of. One on a
// surface always has, as the pieces are told apart by it.
func (v *survey) needsName(c sensors.Channel) bool {
	return c.Quantity == sensors.SurfaceTemperature || v.taken[c]
}

// wired names a place on a bus as Linux does, such as "1-0076" for address 0x76
// of bus 1.
func wired(bus i2c.Bus, addr uint16) string {
	name, _, _ := strings.Cut(bus.String(), "-0x") // a port of a multiplexer goes by its bus
	rest := strings.TrimRight(name, "0123456789")
	return fmt.Sprintf("%s-%04x", name[len(rest):], addr)
}
