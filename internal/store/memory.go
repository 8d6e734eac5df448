package store

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"sync"
	"time"

	"recoat/sensors"
)

// Memory keeps readings for as long as the process lives. It is meant for
// tests and for trying recoat out: every question walks all that is held.
type Memory struct {
	mu    sync.Mutex
	rooms map[string]map[identity]sensors.Round
}

// identity is what makes two deliveries one round.
type identity struct {
	node, boot string
	seq        uint64
}

// NewMemory returns an empty store.
func NewMemory() *Memory { return &Memory{rooms: map[string]map[identity]sensors.Round{}} }

// Append implements Readings.
func (m *Memory) Append(ctx context.Context, room string, rounds []sensors.Round) error {
	kept, err := Canonical(room, rounds)
	if err != nil {
		return err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	if m.rooms[room] == nil {
		m.rooms[room] = map[identity]sensors.Round{}
	}
	for _, r := range kept {
		id := identity{r.Node, r.Boot, r.Seq}
		if held, ok := m.rooms[room][id]; ok {
			r, _ = Replace(held, r)
		}
		m.rooms[room][id] = r
	}
	return nil
}

// Rounds implements Readings.
func (m *Memory) Rounds(ctx context.Context, q Query, each func(sensors.Round) error) error {
	for _, r := range m.find(q) {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.Readings = slices.Clone(r.Readings)
		if err := each(r); err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (m *Memory) find(q Query) []sensors.Round {
	m.mu.Lock()
	defer m.mu.Unlock()
	var found []sensors.Round
	for _, r := range m.rooms[q.Room] {
		if (q.Node == "" || r.Node == q.Node) && !r.Time.Before(q.From) && r.Time.Before(q.To) {
			found = append(found, r)
		}
	}
	slices.SortFunc(found, Compare)
	return found
}

// Rollups implements Readings.
func (m *Memory) Rollups(ctx context.Context, s Series, width time.Duration, from, to time.Time) ([]Rollup, error) {
	if err := CheckWidth(width); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if !from.Before(to) {
		return nil, nil
	}
	tallies := map[time.Time]*Tally{}
	for _, r := range m.find(Query{Room: s.Room, Node: s.Node, From: from.Add(-width), To: to.Add(width)}) {
		start := BucketStart(r.Time, width)
		if !start.Add(width).After(from) || !start.Before(to) {
			continue
		}
		for _, x := range r.Readings {
			if r.Node != s.Node || x.Channel != s.Channel {
				continue
			}
			if tallies[start] == nil {
				tallies[start] = &Tally{}
			}
			tallies[start].Add(x)
		}
	}
	var rollups []Rollup
	for _, start := range slices.SortedFunc(maps.Keys(tallies), time.Time.Compare) {
		rollups = append(rollups, tallies[start].Rollup(start, s.Channel.Quantity))
	}
	return rollups, nil
}

// Extents implements Readings.
func (m *Memory) Extents(ctx context.Context) ([]Extent, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	found := map[Series]Extent{}
	for room, rounds := range m.rooms {
		for _, r := range rounds {
			for _, x := range r.Readings {
				s := Series{Room: room, Node: r.Node, Channel: x.Channel}
				found[s] = found[s].With(s, r.Time)
			}
		}
	}
	return slices.SortedFunc(maps.Values(found), CompareExtents), nil
}

// With returns the extent of s stretched to t; the zero Extent becomes t alone.
func (e Extent) With(s Series, t time.Time) Extent {
	if e.First.IsZero() {
		return Extent{Series: s, First: t, Last: t}
	}
	if t.Before(e.First) {
		e.First = t
	}
	if t.After(e.Last) {
		e.Last = t
	}
	return e
}

// CompareExtents orders extents by room, node and channel.
func CompareExtents(a, b Extent) int {
	return cmp.Or(cmp.Compare(a.Room, b.Room), cmp.Compare(a.Node, b.Node), CompareChannels(a.Channel, b.Channel))
}
