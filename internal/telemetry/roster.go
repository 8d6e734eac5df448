package telemetry

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// claimLife is how long a claim counts while nobody renews it: four times as long
// as a renewal takes. That of a hub which lost its broker with its machine is
// taken back by nobody.
const claimLife = 2 * time.Minute

// maxHubs is how many hubs are listened to.
const maxHubs = 256

// everyRoom stands for all rooms where a hub that named none leaves all.
const everyRoom = ""

// claimKey tells claims apart: two hubs may have been given one name.
type claimKey struct{ hub, instance string }

// roster is what one hub knows of the others at its broker. Times are those of
// a monotonic clock. It is pure.
//
// A room that another hub was heard to have is left to it until this hub is
// started anew, though the other may be gone for a while: what a node was told is
// stored is not sent again, so that a room passed to and fro would leave half of
// its night in each of two stores.
type roster struct {
	own   Claim // as configured; Since is zero until it is first said
	heard map[claimKey]heardClaim
	left  map[string]claimKey // rooms, or everyRoom, that are left to others
}

type heardClaim struct {
	Claim
	at    time.Duration
	fresh bool // it was said just now, and not only kept by the broker
}

func newRoster(own Claim) *roster {
	return &roster{own: own, heard: map[claimKey]heardClaim{}, left: map[string]claimKey{}}
}

// hear takes another hub's claim, and reports whether it is new. What the broker
// kept under this hub's own name is what its own last start left.
func (r *roster) hear(c Claim, kept bool, at time.Duration) (fresh bool) {
	if c.Hub == r.own.Hub && (kept || c.Instance == r.own.Instance) {
		return false
	}
	maps.DeleteFunc(r.heard, func(_ claimKey, h heardClaim) bool { return h.at < at-claimLife })
	key := claimKey{c.Hub, c.Instance}
	_, known := r.heard[key]
	if known || len(r.heard) < maxHubs {
		r.heard[key] = heardClaim{c, at, !kept}
	}
	r.yield(at)
	return !known
}

// leave forgets a hub that is gone.
func (r *roster) leave(c Claim) { delete(r.heard, claimKey{c.Hub, c.Instance}) }

// claim fixes since when this hub's claim holds, once, and returns what is to be
// said. It is never before what was heard already, so that a hub whose clock is
// behind takes no room from one that has it.
func (r *roster) claim(now time.Time, at time.Duration) Claim {
	if r.own.Since.IsZero() {
		r.own.Since = now.UTC().Truncate(time.Millisecond)
		for _, h := range r.living(at) {
			if !h.Since.Before(r.own.Since) {
				r.own.Since = h.Since.Add(time.Millisecond)
			}
		}
	}
	r.yield(at)
	return r.said()
}

// said is the claim without what is left to others.
func (r *roster) said() Claim {
	c := r.own
	for _, room := range slices.Sorted(maps.Keys(r.left)) {
		c.Except = append(slices.Clone(c.Except), room)
	}
	if _, all := r.left[everyRoom]; all || len(c.Rooms) > 0 && len(c.Except) == len(c.Rooms) || len(c.Except) > MaxOwnRooms {
		return Claim{Hub: c.Hub, Instance: c.Instance, Gone: true}
	}
	return c
}

// yield leaves rooms to the hubs that were heard to have them.
func (r *roster) yield(at time.Duration) {
	if r.own.Since.IsZero() {
		return
	}
	for _, h := range r.living(at) {
		if !h.fresh || !h.Precedes(r.own) {
			continue
		}
		rooms, all := r.said().Shared(h.Claim)
		if all {
			rooms = append(rooms, everyRoom)
		}
		for _, room := range rooms {
			r.left[room] = claimKey{h.Hub, h.Instance}
		}
	}
}

// living are the claims that count now, the earliest first.
func (r *roster) living(at time.Duration) []heardClaim {
	var all []heardClaim
	for _, h := range r.heard {
		if at-h.at <= claimLife {
			all = append(all, h)
		}
	}
	slices.SortFunc(all, func(a, b heardClaim) int {
		return cmp.Or(a.Since.Compare(b.Since), cmp.Compare(a.Hub, b.Hub), cmp.Compare(a.Instance, b.Instance))
	})
	return all
}

// owns reports whether a room is this hub's. A claim that the broker kept is
// waited for, until it is renewed or has had its time.
func (r *roster) owns(room string, at time.Duration) bool {
	return r.said().Covers(room) && !slices.ContainsFunc(r.living(at), func(h heardClaim) bool {
		return h.Covers(room) && (r.own.Since.IsZero() || h.Precedes(r.own))
	})
}

// troubles are the overlaps with other hubs, a sentence each.
func (r *roster) troubles(at time.Duration) []string {
	leftTo := map[claimKey][]string{}
	for room, key := range r.left {
		leftTo[key] = append(leftTo[key], room)
	}
	var all []string
	for key, rooms := range leftTo {
		slices.Sort(rooms)
		all = append(all, r.leftSentence(key, roomList(rooms)))
	}
	for _, h := range r.living(at) {
		rooms, every := r.said().Shared(h.Claim)
		if every {
			rooms = append(rooms, everyRoom)
		}
		switch {
		case len(rooms) == 0:
		case r.own.Since.IsZero() || h.Precedes(r.own):
			all = append(all, fmt.Sprintf("%s: not taken here for now, as the broker has kept the claim of another hub, %s. That is waited for, for two minutes.", roomList(rooms), h.Hub))
		default:
			all = append(all, fmt.Sprintf("%s: another hub, %s, asks for what this one has, and takes nothing of it. Give each room to one hub, under [hub] rooms of both.", roomList(rooms), h.Hub))
		}
	}
	slices.Sort(all)
	return all
}

func (r *roster) leftSentence(to claimKey, rooms string) string {
	if to.hub == r.own.Hub {
		return fmt.Sprintf("%s: not taken here, as another recoat hub that is called %s too has it. Stop one of the two, or give it a name and rooms of its own under [hub]; then start this one again.", rooms, to.hub)
	}
	gone := ""
	if _, there := r.heard[to]; !there {
		gone = " It is not heard any more."
	}
	return fmt.Sprintf("%s: not taken here, as another hub, %s, has it.%s Give each room to one hub, under [hub] rooms of both, and start this one again.", rooms, to.hub, gone)
}

func roomList(rooms []string) string {
	if slices.Contains(rooms, everyRoom) {
		return "Every room"
	}
	return "Room " + strings.Join(rooms, ", ")
}
