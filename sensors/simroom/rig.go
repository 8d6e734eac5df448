package simroom

import (
	"errors"
	"fmt"
	"time"

	"recoat/sensors"
)

// AirChip is an emulated chip that measures air. The rig sets what its next
// measurement will find; the chip itself answers for being read meanwhile.
type AirChip interface {
	Set(sensors.Celsius, sensors.RelativeHumidity, sensors.Pascals)
}

// Probe is an emulated bus of surface probes, each known by its ROM code.
type Probe interface {
	Set(rom string, t sensors.Celsius) error
}

// AirMount hangs a chip in the room's air.
type AirMount struct {
	Chip   AirChip
	Sensor AirSensor
}

// ProbeMount tapes a probe to the coated face of a piece.
type ProbeMount struct {
	Probe  Probe
	ROM    string
	Piece  string
	Sensor ProbeSensor
}

// RigConfig says which chips see which room. Seed draws the sensors' noise.
type RigConfig struct {
	Room   *Room
	Air    []AirMount
	Probes []ProbeMount
	Seed   uint64
}

// Rig shows a room to emulated chips.
type Rig struct {
	room   *Room
	air    []mountedChip
	probes []mountedProbe
}

type mountedChip struct {
	chip AirChip
	view airView
}

type mountedProbe struct {
	ProbeMount
	view probeView
}

// NewRig mounts the chips and sets them to the room as it is. The error names
// a probe on a piece that is not in the room, or comes from a probe's Set.
func NewRig(cfg RigConfig) (*Rig, error) {
	if cfg.Room == nil {
		return nil, errors.New("simulated rig: it needs a room")
	}
	g := &Rig{room: cfg.Room}
	for i, m := range cfg.Air {
		g.air = append(g.air, mountedChip{m.Chip, airView{sensor: m.Sensor, rng: stream(cfg.Seed, 100+uint64(i))}})
	}
	for i, m := range cfg.Probes {
		g.probes = append(g.probes, mountedProbe{m, probeView{sensor: m.Sensor, rng: stream(cfg.Seed, 1000+uint64(i))}})
	}
	if err := g.set(0); err != nil {
		return nil, err
	}
	return g, nil
}

// Room is the room behind the chips.
func (g *Rig) Room() *Room { return g.room }

// Advance moves the room on by dt and sets every chip; a dt of zero or less does
// nothing. A chip that cannot be set does not hold up the others; the error joins
// what went wrong.
func (g *Rig) Advance(dt time.Duration) error {
	if dt <= 0 {
		return nil
	}
	g.room.Step(dt)
	return g.set(dt)
}

func (g *Rig) set(dt time.Duration) error {
	for i := range g.air {
		g.air[i].chip.Set(g.air[i].view.see(g.room, dt))
	}
	var errs []error
	for i := range g.probes {
		p := &g.probes[i]
		surface, there := g.room.Surface(p.Piece)
		if !there {
			errs = append(errs, fmt.Errorf("simulated rig: probe %s is on %q, which is not in the room", p.ROM, p.Piece))
			continue
		}
		if err := p.Probe.Set(p.ROM, p.view.see(surface, dt)); err != nil {
			errs = append(errs, fmt.Errorf("simulated rig: set probe %s: %w", p.ROM, err))
		}
	}
	return errors.Join(errs...)
}
