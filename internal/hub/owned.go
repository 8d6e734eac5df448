package hub

import (
	"math"
	"slices"
	"sync/atomic"
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
	crowded  int      // as long as recent may become before it is looked through
}

// stored is a round as it goes to the store.
type stored struct {
	at    time.Duration // on the monotonic clock
	round sensors.Round
	done  *atomic.Bool // it is there
}

// recently is how long a round is kept in hand for a recall at the most: longer
// than any commit takes.
const recently = 5 * time.Minute

// fewInHand is how many rounds are not worth looking through.
const fewInHand = 512

func (o *owned) remember(s stored) {
	if o.recent = append(o.recent, s); len(o.recent) > max(fewInHand, o.crowded) {
		o.forgetUntil(math.MinInt64)
		o.crowded = 2 * len(o.recent)
	}
}

// forgetUntil lets go of what came before mono, and of what is in the store.
func (o *owned) forgetUntil(mono time.Duration) {
	o.recent = slices.DeleteFunc(o.recent, func(s stored) bool { return s.at < mono || s.done.Load() })
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
