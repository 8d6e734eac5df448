package hub

import (
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// owned is a room with what the hub keeps of it.
type owned struct {
	*room.Room
	title    string
	limits   drying.Limits
	coats    []shop.Coat // that it follows
	snapshot room.Snapshot
	stale    bool // the snapshot
	wishes   []alert.Wish
	partial  bool     // not all of the history could be read
	recent   []stored // not surely in the store yet, oldest first
}

// stored is a round as it goes to the store.
type stored struct {
	at    time.Duration // on the monotonic clock
	round sensors.Round
}

// recently is how long a round is kept in hand for a recall: longer than any
// commit takes.
const recently = 5 * time.Minute

func (o *owned) remember(at alert.Instant, round sensors.Round) {
	o.recent = append(o.recent, stored{at.Mono, round})
}

func (o *owned) forgetUntil(mono time.Duration) {
	o.recent = slices.DeleteFunc(o.recent, func(s stored) bool { return s.at < mono })
}

// identity is what makes two deliveries one round of one of our nodes.
type identity struct {
	node, boot string
	seq        uint64
}

func identityOf(r sensors.Round) identity { return identity{r.Node, r.Boot, r.Seq} }

// newest returns the rounds in hand, of each the version that the store is
// going to hold.
func (o *owned) newest() map[identity]sensors.Round {
	all := make(map[identity]sensors.Round, len(o.recent))
	for _, s := range o.recent {
		if !s.round.ClockSet {
			continue // nobody knows when it was
		}
		id, round := identityOf(s.round), s.round
		if held, ok := all[id]; ok {
			round, _ = store.Replace(held, round)
		}
		all[id] = round
	}
	return all
}
