package gather

import (
	"cmp"
	"context"
	"encoding/json"
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

// readings reads what the room was like, and where that comes from.
func (g Gatherer) readings(ctx context.Context, e *audit.Evidence, s *scope) error {
	book, checks, err := g.book(ctx)
	if err != nil {
		return err
	}
	extents, err := g.Readings.Extents(ctx)
	if err != nil {
		return err
	}
	from := choose(extents, s)
	e.Sources = from.sources(book, checks, s)
	if from.air.node != "" {
		if e.Samples, err = g.samples(ctx, book, from, store.Query{Room: s.coat.Room, From: s.from, To: s.to}); err != nil {
			return err
		}
	}
	for _, room := range []string{"outside", "outdoors"} {
		out := choose(extents, &scope{coat: shop.Coat{Room: room}, from: s.from, to: s.to})
		if out.air.node == "" {
			continue
		}
		e.Outside, err = g.samples(ctx, book, out, store.Query{Room: room, From: s.coat.Applied, To: s.to})
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

func choose(extents []store.Extent, s *scope) chosen {
	var c chosen
	has := map[store.Series]bool{}
	for _, x := range extents {
		if x.Room == s.coat.Room && !x.Last.Before(s.from) && x.First.Before(s.to) {
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
			if s.probe != "" && x.Channel.Probe == s.probe && (c.surface.node == "" || x.Node < c.surface.node) {
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

// sources says how well each quantity is known, when the coat was put on.
func (c chosen) sources(book *calibration.Book, checks []shop.Calibration, s *scope) []audit.Source {
	usual := drying.TypicalUncertainty()
	var all []audit.Source
	add := func(name string, at place, q sensors.Quantity, unit string, typical float64) {
		if at.node == "" {
			return
		}
		channel := sensors.Channel{Quantity: q, Probe: at.probe}
		x := audit.Source{Quantity: name, Node: at.node, Channel: channel.String(), Unit: unit,
			Sigma: book.Sigma(s.coat.Room, at.node, channel, s.coat.Applied, typical)}
		if check, ok := book.Of(s.coat.Room, at.node, channel, s.coat.Applied); ok {
			x.Check, x.Overdue = &check, s.coat.Applied.After(check.Due)
			for _, k := range checks {
				if k.Room == s.coat.Room && k.Node == at.node && k.Channel == channel && k.From.Equal(check.From) && k.Undone.IsZero() {
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

// probeIn reads the probe out of a part as the record of changes has it.
func probeIn(before json.RawMessage) (string, bool) {
	var p struct {
		Probe *string `json:"probe"`
	}
	if json.Unmarshal(before, &p) != nil || p.Probe == nil {
		return "", false
	}
	return *p.Probe, true
}

// concerns reports whether an episode is about the coat, or about its room while
// the coat was open.
func (s *scope) concerns(x alert.Episode) bool {
	subject, _, _ := strings.Cut(x.Key.Subject, "/")
	switch {
	case x.Key.Room != s.coat.Room:
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
