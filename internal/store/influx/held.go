package influx

import (
	"context"
	"slices"
	"strconv"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/query"

	"recoat/internal/store"
	"recoat/sensors"
)

// span is a run of 4096 rounds of a boot.
type span struct {
	room, node, boot string
	number           uint64
}

func spanIn(room string, r sensors.Round) span { return span{room, r.Node, r.Boot, spanOf(r.Seq)} }

// version is what has to be known of a round on the server to tell what another
// delivery of it does.
type version struct {
	ms  int64 // its time
	set bool  // the clock was set
}

// memory remembers the spans that were last written to, so that a live round
// costs no question.
type memory struct {
	spans map[span]map[uint64][]version
	order []span // oldest first
}

// remembered bounds the memory to some megabytes.
const remembered = 64

func newMemory() *memory { return &memory{spans: map[span]map[uint64][]version{}} }

func (m *memory) put(k span, held map[uint64][]version) {
	m.spans[k] = held
	m.order = append(m.order, k)
	if len(m.order) > remembered {
		delete(m.spans, m.order[0])
		m.order = slices.Delete(m.order, 0, 1)
	}
}

func (m *memory) forget() { m.spans, m.order = map[span]map[uint64][]version{}, nil }

// spanHeld returns the live versions of each round of a span: one, or more
// after a write that was cut off.
func (s *Store) spanHeld(ctx context.Context, k span) (map[uint64][]version, error) {
	if held, ok := s.held.spans[k]; ok {
		return held, nil
	}
	held := map[uint64][]version{}
	a := ask{
		bucket: s.cfg.Readings, measurement: roundName, from: epoch, to: never, keep: []string{"node", "boot"},
		tags: []tag{{"room", escape(k.room)}, {"node", escape(k.node)}, {"boot", bootTag(k.boot)}, {"span", strconv.FormatUint(k.number, 10)}},
	}
	err := s.rows(ctx, a, func(row *query.FluxRecord) error {
		r, live, err := roundOf(row)
		if live && err == nil {
			held[r.Seq] = append(held[r.Seq], version{r.Time.UnixMilli(), r.ClockSet})
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	s.held.put(k, held)
	return held, nil
}

// foreignHeld returns the rounds of a foreign device from one instant to
// another, by time.
func (s *Store) foreignHeld(ctx context.Context, room, node string, from, to time.Time) (map[int64]sensors.Round, error) {
	held := map[int64]sensors.Round{}
	a := s.roundsOf(store.Query{Room: room, Node: node}, from, to, "")
	a.tags = append(a.tags, tag{"boot", foreign})
	err := s.rows(ctx, a, func(row *query.FluxRecord) error {
		r, live, err := roundOf(row)
		if live && err == nil {
			held[r.Time.UnixMilli()] = r
		}
		return err
	})
	return held, err
}
