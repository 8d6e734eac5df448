package wiring

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors/chip"
)

// Place is an address of an I²C bus that answers.
type Place struct {
	Bus  string
	Addr uint16
	What string // the kind of chip, or why it is not asked; empty: a chip that is not known
}

// The addresses that chips may have: the others are reserved (UM10204, section
// 3.1.12).
const (
	lowestAddress  = 0x08
	highestAddress = 0x77
)

// Places asks every address of the bus, and of those behind its multiplexer, who
// is there. An address that no kind of chip answers at is read once, a byte.
// There are none, and no error, where the machine has no bus and none was named.
func Places(cfg Real) ([]Place, error) {
	bus, err := chip.OpenBus(cfg.I2C)
	if err != nil {
		if errors.Is(err, chip.ErrNoBus) && !cfg.namesBus() {
			return nil, nil
		}
		return nil, err
	}
	all := places(newSurvey(bus, cfg, &channels{}))
	return all, bus.Close()
}

func places(v *survey) []Place {
	_ = v.look(context.Background()) // what fails of it does not answer
	below := v.placesOn(v.way(), v.bus, trunk, nil)
	all := slices.Clone(below)
	if v.mux != nil {
		for n := range chip.MuxPorts {
			all = append(all, v.placesOn(v.mux.Port(n), v.mux.Port(n), n, below)...)
		}
	}
	return all
}

// way is how the bus itself is asked.
func (v *survey) way() i2c.Bus {
	if v.mux != nil {
		return v.mux.Alone()
	}
	return v.bus
}

// placesOn leaves out what answers below: it does so on every port.
func (v *survey) placesOn(way, bus i2c.Bus, port int, below []Place) []Place {
	var all []Place
	for addr := uint16(lowestAddress); addr <= highestAddress; addr++ {
		if slices.ContainsFunc(below, func(p Place) bool { return p.Addr == addr }) {
			continue
		}
		what, here := v.named(spot{port, addr})
		if here || way.Tx(addr, nil, make([]byte, 1)) == nil {
			all = append(all, Place{bus.String(), addr, what})
		}
	}
	return all
}

// named says what is at a spot, where that is known without asking.
func (v *survey) named(at spot) (what string, here bool) {
	if s, known := v.at[at]; known {
		return s.kind, true
	}
	if at.port != trunk {
		return "", false
	}
	switch {
	case v.kernels(at.addr):
		return "left to the kernel's driver", true
	case v.mux != nil && at.addr == v.cfg.Mux:
		return "pca9548", true
	case v.skip[at.addr] && at.addr == v.cfg.Bridge:
		return "the 1-wire bridge, as configured", false
	case v.skip[at.addr]:
		return "ads1115, as configured", false
	}
	return "", false
}

// String is a place as a person would say it.
func (p Place) String() string {
	what := p.What
	if what == "" {
		what = "a chip that is not known"
	}
	return fmt.Sprintf("%s %#02x: %s", p.Bus, p.Addr, what)
}
