package room

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"recoat/internal/alert"
	"recoat/sensors"
)

// node is what is known of one node.
type node struct {
	name     string
	heard    alert.Instant // when last, or since when it is waited for
	ever     bool          // heard at all since the room was made
	stored   time.Time     // of its newest round in the store
	boot     string        // of the newest round that spoke for the present
	seq      uint64        // of that round
	spoke    bool          // there was such a round
	spokeAt  alert.Instant // when it came
	clockSet bool          // as it said
	supplied float64       // the highest supply voltage it gave
	channels map[sensors.Channel]said
	dating   dating
	boots    boots
	away     bool          // its connection is lost, and no round has come since
	awayAt   alert.Instant // when the hub was told
}

// said is what a node said last of one channel.
type said struct {
	sensors.Reading
	readAt time.Time     // by the hub's clock where the node's is not believed
	at     alert.Instant // when it came
	good   alert.Instant // when it last was good, or was first heard of
	ever   bool          // good at all
}

func (r *Room) node(name string) *node {
	n := r.nodes[name]
	if n == nil {
		n = &node{name: name, heard: r.now, channels: map[sensors.Channel]said{}, boots: boots{}}
		r.nodes[name] = n
	}
	return n
}

// hear takes a round as the node's present, and reports whether it is. One that
// comes late is history only.
func (n *node) hear(e Arrived, dated bool) bool {
	n.heard, n.ever, n.away = e.At, true, false
	n.boots.hear(e)
	again := e.Round.Boot != "" && e.Round.Boot == n.boot && e.Round.Seq < n.seq
	if again || dated && n.dating.late(e) || !dated && n.dating.old(e) {
		return false
	}
	n.boot, n.seq, n.spoke, n.spokeAt, n.clockSet = e.Round.Boot, e.Round.Seq, true, e.At, e.Round.ClockSet
	readAt := e.Round.Time
	if !dated {
		readAt = e.At.Wall
	}
	before := n.channels
	if e.Round.Boot != "" {
		// A round of ours lists every channel there is; that of a foreign device
		// may hold one alone.
		n.channels = map[sensors.Channel]said{}
	}
	for _, x := range e.Round.Readings {
		n.take(before[x.Channel], said{Reading: x, readAt: readAt, at: e.At})
	}
	return true
}

func (n *node) take(old, now said) {
	if n.boot == "" && now.readAt.Before(old.readAt) && now.at.Mono-old.at.Mono <= readingLife {
		return // a foreign device's messages may overtake each other
	}
	now.good, now.ever = old.good, old.ever
	if now.Quality == sensors.Good {
		now.good, now.ever = now.at, true
	} else if old.Channel == (sensors.Channel{}) {
		now.good = now.at
	}
	n.channels[now.Channel] = now
}

// recent reports whether the node speaks for the present. Only monotonic time
// counts: the wall clock may have been set in between.
func (n *node) recent(now alert.Instant) bool {
	return n.spoke && now.Mono-n.spokeAt.Mono <= readingLife
}

// value is the good and recent value of a channel.
func (n *node) value(c sensors.Channel, now alert.Instant) (said, bool) {
	s, ok := n.channels[c]
	return s, ok && s.Quality == sensors.Good && now.Mono-s.at.Mono <= readingLife
}

// inOrder lists the node's channels by quantity, then probe.
func (n *node) inOrder() []sensors.Channel {
	return slices.SortedFunc(maps.Keys(n.channels), func(a, b sensors.Channel) int {
		return cmp.Or(cmp.Compare(a.Quantity, b.Quantity), cmp.Compare(a.Probe, b.Probe))
	})
}

// goneAfter is how long a connection has to be lost for its node to be gone: a
// network that flickers brings it back sooner.
const goneAfter = time.Minute

// silent reports whether nothing is to be expected of a node for now: it was not
// heard for so long, or its connection is lost.
func (n *node) silent(now alert.Instant, after time.Duration) bool {
	return now.Mono-n.heard.Mono > after || n.away && now.Mono-n.awayAt.Mono > goneAfter
}

// reported takes the broker's word. A node that nobody has heard of is not made
// by it: the broker keeps what it was last told of those long taken away.
func (r *Room) reported(e Reported) []Effect {
	r.pass(e.At)
	n := r.nodes[e.Node]
	if n == nil && e.Boot != "" {
		n = r.node(e.Node) // it is there, and about to send
	}
	if n == nil {
		return nil
	}
	n.dating.told(e)
	if n.away == !e.Online {
		return nil
	}
	n.away, n.awayAt = !e.Online, e.At
	return []Effect{Show{}}
}

// missedFor is how fresh a node's last reading has to be for the node to be
// waited for after a restart of the hub. One that is silent for longer was
// taken away on purpose.
const missedFor = 24 * time.Hour

// inOrder lists the nodes that are heard or waited for, by name.
func (r *Room) inOrder() []*node {
	var all []*node
	for _, name := range slices.Sorted(maps.Keys(r.nodes)) {
		if n := r.nodes[name]; n.ever || r.now.Wall.Sub(n.stored) <= missedFor {
			all = append(all, n)
		}
	}
	return all
}
