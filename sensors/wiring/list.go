package wiring

import (
	"context"
	"sync"
	"time"

	"recoat/sensors"
)

// Wired is a sensor that was found, and what it gives.
type Wired struct {
	Name     string
	Channels []sensors.Channel
}

// List says what is wired to this machine. A chip that does not answer just now
// is not listed, unless it was named: then it is among the failures, or in the
// list as what should be there. Nothing is measured.
func List(cfg Real) (list []Wired, failures []error, err error) {
	found, err := Find(cfg)
	if err != nil {
		return nil, nil, err
	}
	return found.List(), found.Failures, found.Close()
}

// List says what was found, in the order of the guards.
func (s Sensors) List() []Wired {
	guards := s.Guards()
	all := make([]Wired, len(guards))
	for i, g := range guards {
		all[i] = Wired{Name: g.Name(), Channels: g.Channels()}
	}
	return all
}

// Answer is what one sensor said when it was asked.
type Answer struct {
	Health   sensors.Health
	Readings []sensors.Reading // one of each channel, missing where there is no value
}

// Read asks every sensor once, all at the same time, as a round does.
func (s Sensors) Read(ctx context.Context, now time.Time) []Answer {
	guards := s.Guards()
	all := make([]Answer, len(guards))
	var reads sync.WaitGroup
	for i, g := range guards {
		reads.Go(func() { all[i].Readings = g.Read(ctx, now) })
	}
	reads.Wait()
	for i, g := range guards {
		all[i].Health = g.Health()
	}
	return all
}
