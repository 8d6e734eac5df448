package room

import (
	"cmp"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
)

// Config is what a room needs to know of itself.
type Config struct {
	Room        string        // identifier, as in topics
	Title       string        // the finisher's name for it
	SilentAfter time.Duration // a node not heard for so long is silent
	Location    *time.Location
	Limits      drying.Limits // where no product is in question; zero: the usual ones
	Engine      *alert.Engine
}

// readingLife is how long a reading speaks for the present.
const readingLife = 5 * time.Minute

// Room is the state of one room. It is for one goroutine.
type Room struct {
	cfg     Config
	history history
	jobs    []*followed
	nodes   map[string]*node
	now     alert.Instant
	worked  time.Time // minute of the last reckoning
	dirty   bool      // something changed since
	verdict drying.Verdict
}

// node is what is known of one node.
type node struct {
	name     string
	heard    alert.Instant
	ever     bool
	last     sensors.Round                     // that speaks for the present
	lastAt   alert.Instant                     // when it came
	good     map[sensors.Channel]alert.Instant // when each channel last gave a good value, or was first heard of
	everGood map[sensors.Channel]bool
	unset    string // boot whose rounds counted before its clock was set
	highest  uint64 // the last such round
}

// New returns a room without history.
func New(cfg Config) *Room {
	cfg.SilentAfter = cmp.Or(cfg.SilentAfter, readingLife)
	if cfg.Location == nil {
		cfg.Location = time.UTC
	}
	if cfg.Limits == (drying.Limits{}) {
		cfg.Limits = drying.DefaultLimits()
	}
	return &Room{cfg: cfg, nodes: map[string]*node{}}
}

// Step takes one event and returns what follows from it.
func (r *Room) Step(e Event) []Effect {
	switch e := e.(type) {
	case Arrived:
		return r.arrived(e)
	case Recalled:
		r.history.add(e.Round)
		r.dirty = true
		return nil
	case JobsChanged:
		return r.jobsChanged(e)
	case Tick:
		return r.tick(e.At)
	case Seen:
		return r.seen(e)
	}
	return nil
}

// Forget drops the history, before it is recalled from the store anew.
func (r *Room) Forget() {
	r.history = history{}
	for _, j := range r.jobs {
		j.reset()
	}
	for _, n := range r.nodes {
		n.unset, n.highest = "", 0
	}
	r.dirty = true
}

func (r *Room) arrived(e Arrived) []Effect {
	n := r.node(e.Round.Node)
	reload := n.corrects(e.Round)
	n.hear(e)
	r.now = e.At
	if n.dates(e) {
		r.history.add(e.Round)
		r.staleFrom(e.Round.Time)
	}
	effects := r.reckon()
	if reload {
		n.unset, n.highest = "", 0
		effects = append(effects, Reload{})
	}
	return append(effects, Show{})
}

func (r *Room) node(name string) *node {
	n := r.nodes[name]
	if n == nil {
		n = &node{name: name, good: map[sensors.Channel]alert.Instant{}, everGood: map[sensors.Channel]bool{}}
		r.nodes[name] = n
	}
	return n
}

// hear takes a round as the node's present. A round that comes late is history
// only.
func (n *node) hear(e Arrived) {
	n.heard, n.ever = e.At, true
	late := e.Round.ClockSet && e.At.Wall.Sub(e.Round.Time) > readingLife
	older := e.Round.Boot == n.last.Boot && e.Round.Seq < n.last.Seq
	if late || older {
		return
	}
	n.last, n.lastAt = e.Round, e.At
	for _, x := range e.Round.Readings {
		if x.Quality == sensors.Good {
			n.everGood[x.Channel] = true
			n.good[x.Channel] = e.At
		} else if _, known := n.good[x.Channel]; !known {
			n.good[x.Channel] = e.At
		}
	}
}

// clockAgrees is how far an unset clock may be from the hub's and still date a
// round.
const clockAgrees = 10 * time.Minute

// dates reports whether a round's time can be believed, and remembers those
// that are believed for want of better.
func (n *node) dates(e Arrived) bool {
	if e.Round.ClockSet || e.Round.Boot == "" {
		return true
	}
	if off := e.At.Wall.Sub(e.Round.Time); off > clockAgrees || off < -clockAgrees {
		return false
	}
	if n.unset != e.Round.Boot {
		n.highest = 0
	}
	n.unset, n.highest = e.Round.Boot, max(n.highest, e.Round.Seq)
	return true
}

// corrects reports whether a round already counted comes again with a time
// that can be trusted.
func (n *node) corrects(round sensors.Round) bool {
	return round.ClockSet && n.unset != "" && round.Boot == n.unset && round.Seq <= n.highest
}

func (r *Room) jobsChanged(e JobsChanged) []Effect {
	old := r.jobs
	r.jobs = make([]*followed, 0, len(e.Jobs))
	for _, job := range e.Jobs {
		r.jobs = append(r.jobs, follow(job))
	}
	slices.SortFunc(r.jobs, func(a, b *followed) int {
		return cmp.Or(a.Applied.Compare(b.Applied), cmp.Compare(a.ID, b.ID))
	})
	effects := r.retire(old)
	r.dirty = true
	if !r.now.Wall.IsZero() {
		effects = append(effects, r.reckon()...)
	}
	return append(effects, Show{})
}

func (r *Room) tick(at alert.Instant) []Effect {
	r.now = at
	minute := at.Wall.Truncate(slotWidth)
	if minute.Equal(r.worked) && !r.dirty {
		return r.notify(r.cfg.Engine.Step(at, r.findings()))
	}
	return append(r.reckon(), Show{})
}

func (r *Room) seen(e Seen) []Effect {
	t, ok := r.cfg.Engine.Acknowledge(e.Episode, e.At)
	if !ok {
		return nil
	}
	return append(r.notify([]alert.Transition{t}), Show{})
}

// reckon brings the verdict and every coat up to the present and asks the
// rules.
func (r *Room) reckon() []Effect {
	r.worked, r.dirty = r.now.Wall.Truncate(slotWidth), false
	r.trim()
	r.verdict = r.judge()
	for _, j := range r.jobs {
		j.reckon(&r.history, r.now.Wall)
	}
	return r.notify(r.cfg.Engine.Step(r.now, r.findings()))
}

// trim forgets history that nothing asks for any more.
func (r *Room) trim() {
	from := r.now.Wall.Add(-keep)
	for _, j := range r.jobs {
		if j.Applied.Before(from) {
			from = j.Applied
		}
	}
	r.history.forget(from.Truncate(slotWidth))
}

func (r *Room) staleFrom(t time.Time) {
	for _, j := range r.jobs {
		j.staleFrom(t)
	}
}

func (r *Room) notify(transitions []alert.Transition) []Effect {
	if len(transitions) == 0 {
		return nil
	}
	return []Effect{Notify{Transitions: transitions}}
}
