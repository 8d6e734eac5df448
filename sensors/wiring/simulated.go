package wiring

import (
	"fmt"
	"os"
	"time"

	"recoat/drying/wood"
	"recoat/sensors"
	"recoat/sensors/chip"
	"recoat/sensors/emulated"
	"recoat/sensors/kernel"
	"recoat/sensors/poll"
	"recoat/sensors/simroom"
)

// Simulated says which room to simulate, and what stands in it with a probe.
type Simulated struct {
	Room   string // a preset of package simroom
	Seed   uint64
	Start  time.Time
	Probes []Probed
}

// Probed is a piece with a surface probe on it.
type Probed struct {
	ROM       string  // of the probe, "28-…"
	Name      string  // of the piece
	Thickness float64 // m
	Area      float64 // m²
}

// Simulation is a simulated room with the emulated chips that hang in it.
type Simulation struct {
	Sensors
	Chip    *emulated.BME280
	OneWire *emulated.OneWire
	rig     *simroom.Rig
}

const (
	busName     = "emulated-i2c"
	chipAddress = 0x76
	coldStart   = -3 // K: a piece just brought in is a little colder than the room
)

// Simulate builds the room, hangs a BME280 into its air and lays a DS18B20 on
// each probed piece. The chips are emulated at the level of registers and
// files; the drivers are the real ones.
func Simulate(cfg Simulated) (*Simulation, error) {
	room, err := furnish(cfg)
	if err != nil {
		return nil, err
	}
	root, err := os.MkdirTemp("", "recoat-onewire-")
	if err != nil {
		return nil, fmt.Errorf("a folder to play the 1-wire bus: %w", err)
	}
	s := &Simulation{
		Chip:    emulated.NewBME280(chipAddress, emulated.Typical()),
		OneWire: &emulated.OneWire{Root: root},
	}
	s.Close = func() error { return os.RemoveAll(root) }
	if err := s.mount(cfg, room); err != nil {
		_ = s.Close()
		return nil, err
	}
	return s, nil
}

func furnish(cfg Simulated) (*simroom.Room, error) {
	preset, err := simroom.Preset(cfg.Room)
	if err != nil {
		return nil, err
	}
	preset.Seed = cfg.Seed
	room, err := simroom.New(preset, cfg.Start)
	if err != nil {
		return nil, err
	}
	for _, p := range cfg.Probes {
		piece := simroom.Piece{Name: p.Name, Area: p.Area, Board: wood.Typical(p.Thickness), Start: room.Air().Add(coldStart)}
		if err := room.Bring(piece); err != nil {
			return nil, err
		}
	}
	return room, nil
}

func (s *Simulation) mount(cfg Simulated, room *simroom.Room) error {
	rig := simroom.RigConfig{
		Room: room, Seed: cfg.Seed,
		Air: []simroom.AirMount{{Chip: s.Chip, Sensor: simroom.TypicalAirSensor()}},
	}
	for _, p := range cfg.Probes {
		rig.Probes = append(rig.Probes, simroom.ProbeMount{Probe: s.OneWire, ROM: p.ROM, Piece: p.Name, Sensor: simroom.TypicalProbe()})
	}
	var err error
	if s.rig, err = simroom.NewRig(rig); err != nil {
		return err
	}
	bus := emulated.NewI2CBus(busName)
	bus.Attach(chipAddress, s.Chip)
	s.Buses = []*poll.Bus{poll.NewBus(poll.BusConfig{Name: busName, Guards: []*poll.Guard{bme280(bus)}})}
	probes, err := kernel.DiscoverW1(s.OneWire.Root)
	if err != nil {
		return err
	}
	var wire []*poll.Guard
	for _, p := range probes {
		wire = append(wire, poll.NewGuard(poll.Over(p)))
	}
	s.Buses = append(s.Buses, poll.NewBus(poll.BusConfig{Name: "1-wire", Guards: wire}))
	return nil
}

// Advance moves the room on and shows it to the chips.
func (s *Simulation) Advance(dt time.Duration) error { return s.rig.Advance(dt) }

// Now is the room's own time.
func (s *Simulation) Now() time.Time { return s.rig.Room().Now() }

// Apply puts a coat with so much water, in kg/m², on a piece.
func (s *Simulation) Apply(piece string, water float64) error {
	return s.rig.Room().Apply(piece, water)
}

// Truth is what the room is really like, beside what the chips say of it.
func (s *Simulation) Truth() (sensors.Celsius, sensors.RelativeHumidity) {
	return s.rig.Room().Air(), s.rig.Room().Humidity()
}

// bme280 guards the chip in the room's air.
func bme280(bus *emulated.I2CBus) *poll.Guard {
	return poll.NewGuard(poll.GuardConfig{
		Name:     chip.BME280Name(busName, chipAddress),
		Channels: chip.BME280Channels(),
		Open:     func() (sensors.Source, error) { return chip.OpenBME280(bus, chipAddress, busName) },
	})
}
