package gather

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/audit"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// fresh is how old a value may be to stand beside one of another channel.
const fresh = 5 * time.Minute

// readings reads what the part was in, stay by stay, and where that comes from.
func (g Gatherer) readings(ctx context.Context, e *audit.Evidence, s *scope) error {
	book, checks, err := g.book(ctx)
	if err != nil {
		return err
	}
	extents, err := g.Readings.Extents(ctx)
	if err != nil {
		return err
	}
	for i, q := range s.spans() {
		if q.Room == "" || !q.From.Before(q.To) {
			continue
		}
		from := choose(extents, q, s.stays[i].Probe)
		for _, x := range from.sources(book, checks, q.Room, later(q.From, s.coat.Applied)) {
			if q.Room != s.coat.Room {
				x.Room = q.Room
			}
			e.Sources = heard(e.Sources, x)
		}
		if from.air.node == "" {
			continue
		}
		samples, err := g.samples(ctx, book, from, q)
		if err != nil {
			return err
		}
		e.Samples = append(e.Samples, samples...)
	}
	return g.outside(ctx, book, extents, e, s)
}

// heard adds a source that is none of those there are.
func heard(all []audit.Source, x audit.Source) []audit.Source {
	same := func(o audit.Source) bool {
		return o.Quantity == x.Quantity && o.Room == x.Room && o.Node == x.Node && o.Channel == x.Channel
	}
	if slices.ContainsFunc(all, same) {
		return all
	}
	return append(all, x)
}

func (g Gatherer) outside(ctx context.Context, book *calibration.Book, extents []store.Extent, e *audit.Evidence, s *scope) (err error) {
	for _, room := range []string{"outside", "outdoors"} {
		q := store.Query{Room: room, From: s.coat.Applied, To: s.to}
		out := choose(extents, store.Query{Room: room, From: s.from, To: s.to}, "")
		if out.air.node == "" {
			continue
		}
		e.Outside, err = g.samples(ctx, book, out, q)
	}
	return err
}

// place is a channel without its quantity.
type place struct{ node, probe string }

// chosen says which channels speak: the air's is the first by name that has
// temperature and humidity both, for those of two places make no air.
type chosen struct {
	air     place
	surface place // node empty: no probe was on the part
	speed   place
}

// choose picks them for a stay under a probe.
func choose(extents []store.Extent, q store.Query, probe string) chosen {
	var c chosen
	has := map[store.Series]bool{}
	for _, x := range extents {
		if x.Room == q.Room && !x.Last.Before(q.From) && x.First.Before(q.To) {
			has[x.Series] = true
		}
	}
	var temperatures []place
	for x := range has {
		switch p := (place{x.Node, x.Channel.Probe}); x.Channel.Quantity {
		case sensors.AirTemperature:
			if has[store.Series{Room: x.Room, Node: x.Node, Channel: sensors.Channel{Quantity: sensors.AirHumidity, Probe: x.Channel.Probe}}] {
				temperatures = append(temperatures, p)
			}
		case sensors.SurfaceTemperature:
			if probe != "" && x.Channel.Probe == probe && (c.surface.node == "" || x.Node < c.surface.node) {
				c.surface = p
			}
		case sensors.AirSpeed:
			if c.speed.node == "" || x.Node < c.speed.node {
				c.speed = p
			}
		}
	}
	if len(temperatures) > 0 {
		c.air = slices.MinFunc(temperatures, func(a, b place) int { return cmp.Or(cmp.Compare(a.node, b.node), cmp.Compare(a.probe, b.probe)) })
	}
	return c
}

// sources says how well each quantity of a room is known, as of an instant.
func (c chosen) sources(book *calibration.Book, checks []shop.Calibration, room string, at time.Time) []audit.Source {
	usual := drying.TypicalUncertainty()
	var all []audit.Source
	add := func(name string, of place, q sensors.Quantity, unit string, typical float64) {
		if of.node == "" {
			return
		}
		channel := sensors.Channel{Quantity: q, Probe: of.probe}
		x := audit.Source{Quantity: name, Node: of.node, Channel: channel.String(), Unit: unit,
			Sigma: book.Sigma(room, of.node, channel, at, typical)}
		if check, ok := book.Of(room, of.node, channel, at); ok {
			x.Check, x.Overdue = &check, at.After(check.Due)
			for _, k := range checks {
				if k.Room == room && k.Node == of.node && k.Channel == channel && k.From.Equal(check.From) && k.Undone.IsZero() {
					x.CheckID = k.ID
				}
			}
		}
		all = append(all, x)
	}
	add(audit.AirTemperature, c.air, sensors.AirTemperature, "K", float64(usual.Air))
	add(audit.Humidity, c.air, sensors.AirHumidity, "%RH", float64(usual.Humidity))
	add(audit.SurfaceTemperature, c.surface, sensors.SurfaceTemperature, "K", float64(usual.Surface))
	return all
}

// latest is the newest good value of a channel.
type latest struct {
	value float64
	at    time.Time
}

func (l latest) fresh(now time.Time) bool { return !l.at.IsZero() && now.Sub(l.at) <= fresh }

// samples turns rounds into conditions: one for each round that has a new
// temperature or humidity, corrected.
func (g Gatherer) samples(ctx context.Context, book *calibration.Book, from chosen, q store.Query) ([]drying.Sample, error) {
	var all []drying.Sample
	var air, humidity, surface, pressure, speed latest
	err := g.Readings.Rounds(ctx, q, func(r sensors.Round) error {
		if !r.ClockSet && r.Boot != "" {
			return nil // nobody knows when it was
		}
		news := false
		for _, x := range book.Correct(q.Room, r).Readings {
			if x.Quality != sensors.Good {
				continue
			}
			v := latest{x.Value, r.Time}
			switch at := (place{r.Node, x.Channel.Probe}); {
			case x.Channel.Quantity == sensors.AirTemperature && at == from.air:
				air, news = v, true
			case x.Channel.Quantity == sensors.AirHumidity && at == from.air:
				humidity, news = v, true
			case x.Channel.Quantity == sensors.SurfaceTemperature && at == from.surface:
				surface = v
			case x.Channel.Quantity == sensors.AirPressure && r.Node == from.air.node:
				pressure = v
			case x.Channel.Quantity == sensors.AirSpeed && at == from.speed:
				speed = v
			}
		}
		if !news || !air.fresh(r.Time) || !humidity.fresh(r.Time) {
			return nil
		}
		c := drying.Conditions{Air: sensors.Celsius(air.value), Humidity: sensors.RelativeHumidity(humidity.value), Surface: sensors.Celsius(air.value)}
		if surface.fresh(r.Time) {
			c.Surface, c.SurfaceMeasured = sensors.Celsius(surface.value), true
		}
		if pressure.fresh(r.Time) {
			c.Pressure = sensors.Pascals(pressure.value)
		}
		if speed.fresh(r.Time) {
			c.AirSpeed = sensors.MetresPerSecond(speed.value)
		}
		if n := len(all); n > 0 && all[n-1].At.Equal(r.Time) {
			all[n-1].Conditions = c // a device that sends its channels one by one
			return nil
		}
		all = append(all, drying.Sample{At: r.Time, Conditions: c})
		return nil
	})
	return all, err
}

// concerns reports whether an episode is about the coat, or about its room while
// the coat was open.
func (s *scope) concerns(x alert.Episode) bool {
	subject, _, _ := strings.Cut(x.Key.Subject, "/")
	switch {
	case !slices.ContainsFunc(s.stays, func(o shop.Stay) bool { return o.Room == x.Key.Room }):
		return false
	case subject == s.coat.ID:
		return true
	case strings.HasPrefix(subject, "c-"):
		return false
	}
	end := s.coat.Applied.Add(max(s.coat.Product.Label.Stated.Times[drying.Handle], 48*time.Hour))
	return x.Since.Before(end) && (x.EndedAt.IsZero() || x.EndedAt.After(s.coat.Applied)) && x.Since.After(s.coat.Applied.Add(-24*time.Hour))
}

// channelName leaves out of a channel's address what may be a secret.
func channelName(address string) string {
	name, _, found := strings.Cut(address, ":")
	if found {
		return name
	}
	return address
}
