package storetest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

// SeedVariable names the environment variable that repeats a random check.
const SeedVariable = "RECOAT_SEED"

// checkRandom does random things to the store and to a model made of plain
// maps, and compares all that can be asked of either.
func checkRandom(t *testing.T, r store.Readings) {
	seed := uint64(time.Now().UnixNano())
	if s, err := strconv.ParseUint(os.Getenv(SeedVariable), 10, 64); err == nil {
		seed = s
	}
	t.Logf("repeat with %s=%d", SeedVariable, seed)
	g := generator{rand.New(rand.NewPCG(seed, 0))}
	m := model{}
	for step := range 160 {
		room := g.room()
		var rounds []sensors.Round
		for range g.IntN(6) {
			rounds = append(rounds, g.round())
		}
		add(t, r, room, rounds...)
		for _, x := range rounds {
			m.add(room, x)
		}
		if step%8 == 0 {
			g.compare(t, r, m)
		}
		if t.Failed() {
			t.FailNow()
		}
	}
}

type generator struct{ *rand.Rand }

func pick[T any](g generator, of ...T) T { return of[g.IntN(len(of))] }

func (g generator) room() string { return pick(g, "attic", "attic", "cellar") }
func (g generator) node() string { return pick(g, "bench", "door") }

// instant is within three hours about dusk, often at the edge of a bucket, and
// now and then days off.
func (g generator) instant() time.Time {
	d := time.Duration(g.IntN(180)-90) * time.Minute
	return at(d.Truncate(pick(g, time.Minute, 10*time.Minute)) + pick(g, -time.Millisecond, 0, time.Millisecond) + pick(g, 0, 0, 0, -72*time.Hour))
}

func (g generator) round() sensors.Round {
	x := round(g.node(), pick(g, "b1", "b2", ""), uint64(g.IntN(600)+1), g.instant())
	x.ClockSet = g.IntN(3) > 0
	for _, c := range []sensors.Channel{airChannel, damp, surfaceChannel} {
		if g.IntN(4) == 0 {
			continue
		}
		q := pick(g, sensors.Good, sensors.Good, sensors.Good, sensors.Suspect, sensors.Held, sensors.Uncalibrated, sensors.Missing)
		reading := sensors.Reading{Channel: c, Quality: q}
		if q != sensors.Missing {
			reading.Value = c.Quantity.FromSteps(int64(g.IntN(8000)))
		}
		x.Readings = append(x.Readings, reading)
	}
	return x
}

func (g generator) compare(t *testing.T, r store.Readings, m model) {
	t.Helper()
	from := g.instant()
	to := from.Add(time.Duration(g.IntN(int(5*time.Hour/time.Second)) * int(time.Second)))
	if g.IntN(2) == 0 {
		from, to = at(-100*time.Hour), at(100*time.Hour)
	}
	q := store.Query{Room: g.room(), Node: pick(g, "", "bench", "door"), From: from, To: to}
	same(t, fmt.Sprintf("rounds of %v", q), ask(t, r, q), m.rounds(q))
	s := store.Series{Room: g.room(), Node: g.node(), Channel: pick(g, airChannel, damp, surfaceChannel)}
	for _, width := range store.Widths() {
		same(t, fmt.Sprintf("rollups of %v, %v from %v to %v", s, width, from, to), rollups(t, r, s, width, from, to), m.rollups(s, width, from, to))
	}
	same(t, "extents", extents(t, r), m.extents())
}

// model is the contract in the plainest words: rounds by room and identity.
// It shares no code with a store.
type model map[string]sensors.Round

func (m model) add(room string, came sensors.Round) {
	key := fmt.Sprintf("%s|%s|%s|%d", room, came.Node, came.Boot, came.Seq)
	held, ok := m[key]
	if ok && came.Boot != "" && held.ClockSet && !came.ClockSet {
		return
	}
	if ok && came.Boot == "" {
		came.ClockSet = came.ClockSet || held.ClockSet
		for _, x := range held.Readings {
			if !slices.ContainsFunc(came.Readings, func(y sensors.Reading) bool { return y.Channel == x.Channel }) {
				came.Readings = append(slices.Clone(came.Readings), x)
			}
		}
		slices.SortFunc(came.Readings, func(a, b sensors.Reading) int { return int(a.Channel.Quantity) - int(b.Channel.Quantity) })
	}
	m[key] = came
}

// keys lists the keys of a room and of a node, if it is named, in the order in
// which rounds are delivered.
func (m model) keys(room, node string) []string {
	sorting := map[string]string{}
	for key, x := range m {
		if len(key) > len(room) && key[:len(room)+1] == room+"|" && (node == "" || x.Node == node) {
			by := fmt.Sprintf("%020d\x00%s\x00%s\x00%020d", x.Time.UnixMilli(), x.Node, x.Boot, x.Seq)
			sorting[by] = key
		}
	}
	var order, keys []string
	for by := range sorting {
		order = append(order, by)
	}
	slices.Sort(order)
	for _, by := range order {
		keys = append(keys, sorting[by])
	}
	return keys
}

func (m model) rounds(q store.Query) (found []sensors.Round) {
	for _, key := range m.keys(q.Room, q.Node) {
		if x := m[key]; !x.Time.Before(q.From) && x.Time.Before(q.To) {
			found = append(found, x)
		}
	}
	return found
}

func (m model) rollups(s store.Series, width time.Duration, from, to time.Time) (found []store.Rollup) {
	step := s.Channel.Quantity
	for start := at(-100 * time.Hour); start.Before(to) && from.Before(to); start = start.Add(width) {
		if !start.Add(width).After(from) {
			continue
		}
		bucket := store.Rollup{Start: start}
		var good []int64
		for _, x := range m.rounds(store.Query{Room: s.Room, Node: s.Node, From: start, To: start.Add(width)}) {
			for _, y := range x.Readings {
				switch {
				case y.Channel != s.Channel:
				case y.Quality == sensors.Good:
					good = append(good, step.Steps(y.Value))
				default:
					bucket.Other++
				}
			}
		}
		var sum int64
		for _, n := range good {
			sum += n
		}
		if bucket.Good = int64(len(good)); len(good) > 0 {
			bucket.Min, bucket.Max, bucket.Sum = step.FromSteps(slices.Min(good)), step.FromSteps(slices.Max(good)), step.FromSteps(sum)
		}
		if bucket.Good+bucket.Other > 0 {
			found = append(found, bucket)
		}
	}
	return found
}

func (m model) extents() (found []store.Extent) {
	for _, room := range []string{"attic", "cellar"} {
		for _, node := range []string{"bench", "door"} {
			for _, c := range []sensors.Channel{airChannel, damp, surfaceChannel} {
				var times []time.Time
				for _, key := range m.keys(room, node) {
					if slices.ContainsFunc(m[key].Readings, func(y sensors.Reading) bool { return y.Channel == c }) {
						times = append(times, m[key].Time)
					}
				}
				if len(times) > 0 {
					found = append(found, store.Extent{Series: store.Series{Room: room, Node: node, Channel: c}, First: times[0], Last: times[len(times)-1]})
				}
			}
		}
	}
	return found
}
