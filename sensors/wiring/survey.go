package wiring

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/devices/v3/ds248x"

	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/poll"
)

// doubted is how many failures in a row it takes for a chip to be looked at as
// perhaps another one.
const doubted = 3

// trunk is the bus itself, where the ports of its multiplexer are 0 to 7.
const trunk = -1

// spot is a place that a chip can be at.
type spot struct {
	port int // of the multiplexer, or trunk
	addr uint16
}

// settled is the chip that was found at a spot.
type settled struct {
	kind  string
	guard *poll.Guard
}

// survey looks for what is on an I²C bus, first and ever again.
type survey struct {
	bus    i2c.Bus
	cfg    Real
	taken  *channels
	wire   *chip.OneWire // behind the bridge, nil if there is none
	skip   map[uint16]bool
	mux    *chip.Mux // nil until it answers
	at     map[spot]settled
	probes map[onewire.Address]bool
	guards []*poll.Guard
}

func newSurvey(bus i2c.Bus, cfg Real, taken *channels) *survey {
	v := &survey{bus: bus, cfg: cfg, taken: taken, skip: map[uint16]bool{}, at: map[spot]settled{}, probes: map[onewire.Address]bool{}}
	if v.cfg.Emissivity == 0 {
		v.cfg.Emissivity = chip.Emissivity
	}
	for _, addr := range []uint16{cfg.Mux, cfg.Bridge} {
		v.skip[addr] = true
	}
	for _, t := range cfg.Thermistors {
		v.skip[t.ADC] = true
	}
	if cfg.Bridge != 0 {
		v.wire = chip.NewOneWire(func() (onewire.Bus, error) { return ds248x.New(bus, cfg.Bridge, &ds248x.DefaultOpts) })
	}
	return v
}

// addBus guards what is on the bus: the chips that are found, those behind the
// multiplexer, and what has to be said. What fails of it hides no other.
func (s *Sensors) addBus(bus i2c.Bus, cfg Real, taken *channels) {
	s.addSurvey(newSurvey(bus, cfg, taken))
}

func (s *Sensors) addSurvey(v *survey) {
	s.Failures = append(s.Failures, v.look(context.Background())...)
	v.addThermistors()
	s.fail(v.lookForProbes(context.Background()))
	s.Buses = append(s.Buses, poll.NewBus(poll.BusConfig{Name: v.bus.String(), Guards: v.guards, Look: v.again}))
}

// again is a poll.Look: what fails now fails as it did before, and was told.
func (v *survey) again(ctx context.Context) []*poll.Guard {
	_ = v.look(ctx)
	_ = v.lookForProbes(ctx)
	return slices.Clone(v.guards)
}

// look finds the chips on the bus and behind its multiplexer.
func (v *survey) look(ctx context.Context) (failures []error) {
	if v.mux == nil && v.cfg.Mux != 0 {
		mux, err := chip.OpenMux(v.bus, v.cfg.Mux)
		if err != nil {
			failures = append(failures, err)
		} else {
			v.mux = mux
		}
	}
	if v.mux == nil {
		v.sweep(ctx, v.bus, v.bus, trunk)
		return failures
	}
	v.sweep(ctx, v.way(), v.bus, trunk)
	for n := range chip.MuxPorts {
		port := v.mux.Port(n)
		v.sweep(ctx, port, port, n)
	}
	return failures
}

// sweep asks, by way of a bus, every address at which a chip could be and none
// is that works. What answers is read on the bus it is on.
func (v *survey) sweep(ctx context.Context, way, bus i2c.Bus, port int) {
	found := map[uint16]bool{}
	for _, k := range chip.Kinds(v.cfg.Emissivity) {
		for _, addr := range k.Addresses {
			if ctx.Err() == nil && !found[addr] && v.vacant(spot{port, addr}) && k.Answers(way, addr) {
				found[addr] = true
				v.settle(k, bus, spot{port, addr})
			}
		}
	}
}

// vacant reports whether a spot is to be asked. A chip on the bus itself answers
// on every port of the multiplexer as well.
func (v *survey) vacant(at spot) bool {
	if v.skip[at.addr] || at.port == trunk && v.kernels(at.addr) {
		return false
	}
	if at.port != trunk {
		if _, below := v.at[spot{trunk, at.addr}]; below {
			return false
		}
	}
	here, known := v.at[at]
	return !known || here.guard.Health().Failures >= doubted
}

// kernels reports whether a driver of the kernel's has hold of an address: two who
// talk to one chip spoil each other's measurements (Linux, Documentation/i2c/
// i2c-sysfs.rst: sys/bus/i2c/devices/1-0076).
func (v *survey) kernels(addr uint16) bool {
	_, err := os.Lstat(filepath.Join(v.cfg.Root, "sys/bus/i2c/devices", wired(v.bus, addr), "driver"))
	return err == nil
}

// settle guards the chip that answered at a spot, in place of one of another
// kind that was there. One of the same kind is started again by its guard.
func (v *survey) settle(k chip.Kind, bus i2c.Bus, at spot) {
	here, known := v.at[at]
	if known && here.kind == k.Name {
		return
	}
	if known {
		v.taken.free(here.guard.Channels())
		v.guards = slices.DeleteFunc(v.guards, func(g *poll.Guard) bool { return g == here.guard })
	}
	g := v.guard(k, bus, at)
	v.at[at] = settled{k.Name, g}
	v.guards = append(v.guards, g)
}

func (v *survey) guard(k chip.Kind, bus i2c.Bus, at spot) *poll.Guard {
	place := wired(bus, at.addr)
	if at.port != trunk {
		place += fmt.Sprintf("-%d", at.port)
	}
	return guard(v.taken.claim(k.Channels, place), poll.GuardConfig{
		Name:     chip.Name(k.Name, bus.String(), at.addr),
		Channels: k.Channels,
		Deadline: k.Deadline,
		Open:     func() (sensors.Source, error) { return k.Open(bus, at.addr, bus.String()) },
	})
}

// addThermistors guards what the configuration names, whether or not it answers
// now.
func (v *survey) addThermistors() {
	converters := map[uint16]*chip.ADC{}
	for _, t := range v.cfg.Thermistors {
		adc := converters[t.ADC]
		if adc == nil {
			adc = chip.NewADC(v.bus, t.ADC, v.bus.String())
			converters[t.ADC] = adc
		}
		probe := fmt.Sprintf("%s-in%d", wired(v.bus, t.ADC), t.Input)
		v.guards = append(v.guards, guard(probe, poll.GuardConfig{
			Name:     chip.ThermistorName(adc, t.Thermistor),
			Channels: []sensors.Channel{{Quantity: sensors.SurfaceTemperature}},
			Open:     func() (sensors.Source, error) { return chip.OpenThermistor(adc, t.Thermistor) },
		}))
	}
}

// lookForProbes guards the DS18B20 probes behind the bridge that are not yet.
func (v *survey) lookForProbes(ctx context.Context) error {
	if v.wire == nil {
		return nil
	}
	probes, err := v.wire.Search(ctx)
	switch {
	case err != nil:
		return fmt.Errorf("the 1-wire bridge: %w", err)
	case len(probes) == 0:
		return errors.New("the 1-wire bridge answers, but no DS18B20 behind it does")
	}
	for _, p := range probes {
		if v.probes[p] {
			continue
		}
		v.probes[p] = true
		v.guards = append(v.guards, guard(chip.ROM(p), poll.GuardConfig{
			Name:     "ds18b20 " + chip.ROM(p),
			Channels: []sensors.Channel{{Quantity: sensors.SurfaceTemperature}},
			Open:     func() (sensors.Source, error) { return chip.OpenDS18B20(v.wire, p) },
		}))
	}
	return nil
}

// wired names a place on a bus as Linux does, such as "1-0076" for address 0x76
// of bus 1.
func wired(bus i2c.Bus, addr uint16) string {
	name, _, _ := strings.Cut(bus.String(), "-0x") // a port of a multiplexer goes by its bus
	rest := strings.TrimRight(name, "0123456789")
	return fmt.Sprintf("%s-%04x", name[len(rest):], addr)
}
