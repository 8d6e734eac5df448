package wiring

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sort"
	"time"

	"recoat/sensors"
	"recoat/sensors/poll"
)

// Played is what a recording holds of one instant.
type Played struct {
	After    time.Duration // since its beginning
	Readings []sensors.Reading
}

// playedLife is how old a recorded instant may be that is still played: a gap of
// the recording stays a gap.
const playedLife = 15 * time.Minute

// errOver says that there is no more to play.
var errOver = errors.New("the recording is over")

// player is a recording as a source: it says now what was said so long after the
// recording began. It begins with its first reading.
type player struct {
	name     string
	list     []Played
	channels []sensors.Channel
	began    time.Time
}

// Play plays a recording, the oldest instant first, as the sensors of a node.
func Play(name string, list []Played) (Sensors, error) {
	if len(list) == 0 {
		return Sensors{}, fmt.Errorf("play %s: it holds nothing", name)
	}
	p := &player{name: name, list: slices.Clone(list)}
	sort.SliceStable(p.list, func(i, j int) bool { return p.list[i].After < p.list[j].After })
	for _, x := range p.list {
		for _, r := range x.Readings {
			if !slices.Contains(p.channels, r.Channel) {
				p.channels = append(p.channels, r.Channel)
			}
		}
	}
	return Sensors{
		Buses: []*poll.Bus{poll.NewBus(poll.BusConfig{Name: "recording", Guards: []*poll.Guard{poll.NewGuard(poll.Over(p))}})},
		Close: func() error { return nil },
	}, nil
}

// Name says what is played.
func (p *player) Name() string { return "recording " + p.name }

// Channels lists what the recording holds anywhere.
func (p *player) Channels() []sensors.Channel { return p.channels }

// Read is called by one guard, and so by one at a time.
func (p *player) Read(context.Context) ([]sensors.Reading, error) {
	now := time.Now()
	if p.began.IsZero() {
		p.began = now
	}
	at := p.list[0].After + now.Sub(p.began)
	i := sort.Search(len(p.list), func(i int) bool { return p.list[i].After > at }) - 1
	switch age := at - p.list[i].After; {
	case age <= playedLife:
		return slices.Clone(p.list[i].Readings), nil
	case i == len(p.list)-1:
		return nil, fmt.Errorf("play %s: %w", p.name, errOver)
	}
	return nil, fmt.Errorf("play %s: the recording has a gap here", p.name)
}
