package room

import (
	"cmp"
	"slices"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/internal/alert"
	"recoat/sensors"
)

// present is what the nodes' last rounds say of this moment.
type present struct {
	known    bool // air and humidity, both good and recent
	readAt   time.Time
	air      sensors.Celsius
	humidity sensors.RelativeHumidity
	pressure sensors.Pascals
	speed    sensors.MetresPerSecond
	surfaces []surface // in order of probe
}

type surface struct {
	probe  string
	readAt time.Time
	value  sensors.Celsius
}

// present gathers the last good values that are recent enough, each from the
// first node, in order of name, that has it.
func (r *Room) present() present {
	var p present
	for _, n := range r.inOrder() {
		if !n.recent(r.now) {
			continue
		}
		p.takeAir(n.last)
		for _, x := range n.last.Readings {
			if x.Quality == sensors.Good && x.Channel.Quantity == sensors.SurfaceTemperature {
				p.surfaces = append(p.surfaces, surface{x.Channel.Probe, n.last.Time, sensors.Celsius(x.Value)})
			}
		}
	}
	slices.SortFunc(p.surfaces, func(a, b surface) int { return cmp.Compare(a.probe, b.probe) })
	return p
}

func (p *present) takeAir(round sensors.Round) {
	if p.known {
		return
	}
	t, warm := value(round, sensors.AirTemperature)
	rh, damp := value(round, sensors.AirHumidity)
	if !warm || !damp {
		return
	}
	pressure, _ := value(round, sensors.AirPressure)
	speed, _ := value(round, sensors.AirSpeed)
	*p = present{
		known: true, readAt: round.Time, surfaces: p.surfaces,
		air: sensors.Celsius(t), humidity: sensors.RelativeHumidity(rh),
		pressure: sensors.Pascals(pressure), speed: sensors.MetresPerSecond(speed),
	}
}

// value returns the good value of a quantity, of the first probe by name.
func value(round sensors.Round, q sensors.Quantity) (float64, bool) {
	best := -1
	for i, x := range round.Readings {
		if x.Channel.Quantity == q && x.Quality == sensors.Good &&
			(best < 0 || x.Channel.Probe < round.Readings[best].Channel.Probe) {
			best = i
		}
	}
	if best < 0 {
		return 0, false
	}
	return round.Readings[best].Value, true
}

// recent reports whether the node's last round speaks for the present. Only
// monotonic time counts: the wall clock may have been set in between.
func (n *node) recent(now alert.Instant) bool {
	return n.last.Node != "" && now.Mono-n.lastAt.Mono <= readingLife
}

func (r *Room) inOrder() []*node {
	all := make([]*node, 0, len(r.nodes))
	for _, n := range r.nodes {
		all = append(all, n)
	}
	slices.SortFunc(all, func(a, b *node) int { return cmp.Compare(a.name, b.name) })
	return all
}

// conditions are those of the named probe's surface, or of the air where the
// probe is empty or silent.
func (p present) conditions(probe string) (drying.Conditions, bool) {
	c := drying.Conditions{
		Air: p.air, Humidity: p.humidity, Surface: p.air,
		AirSpeed: p.speed, Pressure: p.pressure,
	}
	for _, s := range p.surfaces {
		if s.probe == probe {
			c.Surface, c.SurfaceMeasured = s.value, true
		}
	}
	return c, p.known
}

// coldest names the probe of the coldest surface, "" where none is measured.
func (p present) coldest() string {
	name, least := "", sensors.Celsius(0)
	for _, s := range p.surfaces {
		if name == "" || s.value < least {
			name, least = s.probe, s.value
		}
	}
	return name
}

// judge is the room's verdict, at its coldest surface.
func (r *Room) judge() drying.Verdict {
	p := r.present()
	c, ok := p.conditions(p.coldest())
	if !ok {
		return drying.Verdict{State: drying.Unknown}
	}
	return drying.JudgeRoom(c, drying.TypicalUncertainty(), r.cfg.Limits)
}

// airNow is the state of the air, nil while nothing good is recent enough.
func (p present) airNow() *AirNow {
	s, err := air.At(p.air, p.humidity, p.pressure)
	if !p.known || err != nil {
		return nil
	}
	return &AirNow{
		ReadAt: p.readAt, Air: s.Air, Humidity: s.Humidity,
		DewPoint: s.DewPoint, WetBulb: s.WetBulb, Pressure: p.pressure,
		AbsoluteGM3: s.AbsoluteHumidity, WoodEMC: s.WoodEMC,
	}
}
