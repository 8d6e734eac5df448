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
	surfaces []surfaceReading   // in order of probe
	sure     drying.Uncertainty // of air and humidity; zero: as usual
}

type surfaceReading struct {
	probe  string
	readAt time.Time
	value  sensors.Celsius
	sigma  sensors.Kelvins // standard uncertainty of value
}

// present gathers the last good values that are recent enough, each from the
// first node, in order of name, that has it.
func (r *Room) present() present {
	var p present
	seen := map[string]bool{}
	for _, n := range r.inOrder() {
		if !p.known {
			r.takeAir(&p, n)
		}
		for _, c := range n.inOrder() {
			x, ok := n.value(c, r.now)
			if ok && c.Quantity == sensors.SurfaceTemperature && !seen[c.Probe] {
				seen[c.Probe] = true
				sigma := r.cfg.Book.Sigma(r.cfg.Room, n.name, c, x.readAt, float64(drying.TypicalUncertainty().Surface))
				p.surfaces = append(p.surfaces, surfaceReading{c.Probe, x.readAt, sensors.Celsius(x.Value), sensors.Kelvins(sigma)})
			}
		}
	}
	slices.SortFunc(p.surfaces, func(a, b surfaceReading) int { return cmp.Compare(a.probe, b.probe) })
	return p
}

// takeAir takes a node's air from its first probe that gives temperature and
// humidity both: those of two places say nothing of a dew point.
func (r *Room) takeAir(p *present, n *node) {
	now := r.now
	for _, c := range n.inOrder() {
		t, warm := n.value(c, now)
		rh, damp := n.value(sensors.Channel{Quantity: sensors.AirHumidity, Probe: c.Probe}, now)
		if c.Quantity != sensors.AirTemperature || !warm || !damp {
			continue
		}
		p.known, p.readAt = true, t.readAt
		p.air, p.humidity = sensors.Celsius(t.Value), sensors.RelativeHumidity(rh.Value)
		usual := drying.TypicalUncertainty()
		p.sure.Air = sensors.Kelvins(r.cfg.Book.Sigma(r.cfg.Room, n.name, c, t.readAt, float64(usual.Air)))
		p.sure.Humidity = sensors.RelativeHumidity(r.cfg.Book.Sigma(r.cfg.Room, n.name, rh.Channel, rh.readAt, float64(usual.Humidity)))
		p.pressure = sensors.Pascals(n.first(sensors.AirPressure, now))
		p.speed = sensors.MetresPerSecond(n.first(sensors.AirSpeed, now))
		return
	}
}

// first is the good value of a quantity, of the first probe by name, or 0.
func (n *node) first(q sensors.Quantity, now alert.Instant) float64 {
	for _, c := range n.inOrder() {
		if x, ok := n.value(c, now); ok && c.Quantity == q {
			return x.Value
		}
	}
	return 0
}

// on returns the conditions of the named probe's surface, or of the air where
// the probe is empty or silent.
func (p present) on(probe string) (drying.Conditions, bool) {
	for _, s := range p.surfaces {
		if s.probe == probe && probe != "" {
			return p.over(&s)
		}
	}
	return p.over(nil)
}

// coldest returns the conditions of the coldest surface, or of the air where
// none is measured.
func (p present) coldest() (drying.Conditions, bool) {
	var least *surfaceReading
	for i, s := range p.surfaces {
		if least == nil || s.value < least.value {
			least = &p.surfaces[i]
		}
	}
	return p.over(least)
}

func (p present) over(s *surfaceReading) (drying.Conditions, bool) {
	c := drying.Conditions{
		Air: p.air, Humidity: p.humidity, Surface: p.air,
		AirSpeed: p.speed, Pressure: p.pressure,
	}
	if s != nil {
		c.Surface, c.SurfaceMeasured = s.value, true
	}
	return c, p.known
}

// uncertainty is how well conditions that came from p are known.
func (p present) uncertainty(c drying.Conditions) drying.Uncertainty {
	u := p.sure
	for _, s := range p.surfaces {
		if c.SurfaceMeasured && s.value == c.Surface {
			u.Surface = max(u.Surface, s.sigma)
		}
	}
	return u
}

// judge is the room's verdict, at its coldest surface.
func (r *Room) judge() drying.Verdict {
	p := r.present()
	c, ok := p.coldest()
	if !ok {
		return drying.Verdict{State: drying.Unknown}
	}
	return drying.JudgeRoom(c, p.uncertainty(c), r.cfg.Limits)
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
