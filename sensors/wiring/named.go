package wiring

import (
	"context"

	"recoat/sensors"
	"recoat/sensors/poll"
)

// namedSource is a source whose channels carry the name of its probe.
type namedSource struct {
	sensors.Source
	probe string
}

// Channels lists the source's channels under the probe's name.
func (n namedSource) Channels() []sensors.Channel { return named(n.Source.Channels(), n.probe) }

// Read reads the source.
func (n namedSource) Read(ctx context.Context) ([]sensors.Reading, error) {
	readings, err := n.Source.Read(ctx)
	if err != nil {
		return nil, err
	}
	for i := range readings {
		readings[i].Channel.Probe = n.probe
	}
	return readings, nil
}

func named(list []sensors.Channel, probe string) []sensors.Channel {
	all := make([]sensors.Channel, len(list))
	for i, c := range list {
		all[i] = sensors.Channel{Quantity: c.Quantity, Probe: probe}
	}
	return all
}

// guard guards a source under the name of a probe.
func guard(probe string, c poll.GuardConfig) *poll.Guard {
	open := c.Open
	c.Channels = named(c.Channels, probe)
	c.Open = func() (sensors.Source, error) {
		s, err := open()
		if err != nil {
			return nil, err
		}
		return namedSource{s, probe}, nil
	}
	return poll.NewGuard(c)
}
