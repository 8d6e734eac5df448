package room

import (
	"cmp"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// Config is what a room needs to know of itself.
type Config struct {
	Room        string        // identifier, as in topics
	Title       string        // the finisher's name for it
	SilentAfter time.Duration // a node not heard for so long is silent
	Location    *time.Location
	Limits      drying.Limits // where no product is in question; zero: the usual ones
	Fahrenheit  bool          // what is told is in °F
	NoForecast  bool          // for a record, in which what came after is known
	Engine      *alert.Engine
	Book        *calibration.Book // the checks of the sensors; nil: none
}

// readingLife is how long a reading speaks for the present.
const readingLife = 5 * time.Minute

// Room is the state of one room. It is for one goroutine.
type Room struct {
	cfg     Config
	history history
	weather weather
	jobs    []*followed
	nodes   map[string]*node
	began   alert.Instant // when the first event came
	now     alert.Instant
	worked  time.Time // when the coats were reckoned last
	dirty   bool      // something has changed since
	owed    bool      // a round of the present waits to be reckoned
	verdict drying.Verdict

	wishes    []alert.Wish // of this room, that wait
	bare      []Bare
	outlook   outlook
	looked    glance        // what the outlook rests on
	unfitAt   time.Duration // when a film was last in conditions unfit for it, on the monotonic clock
	everUnfit bool
	pairs     []twins
	compared  time.Time // when those were compared last
}

// New returns a room without history.
func New(cfg Config) *Room {
	cfg.SilentAfter = cmp.Or(cfg.SilentAfter, readingLife)
	if cfg.Location == nil {
		cfg.Location = time.UTC
	}
	cfg.Limits = orDefault(cfg.Limits)
	return &Room{cfg: cfg, nodes: map[string]*node{}, outlook: nobodyKnows()}
}

// Step takes one event and returns what follows from it.
func (r *Room) Step(e Event) []Effect {
	switch e := e.(type) {
	case Arrived:
		return r.arrived(e)
	case Queued:
		r.owed = r.takeIn(e.Arrived) || r.owed
		r.dirty = true
		return nil
	case Recalled:
		r.recalled(e.Round)
		return nil
	case Described:
		return r.described(e)
	case JobsChanged:
		return r.jobsChanged(e)
	case Tick:
		return r.tick(e.At)
	case Seen:
		return r.seen(e)
	case Snoozed:
		return r.snoozed(e)
	case Wished:
		r.wishes = e.Wishes
	case BareChanged:
		r.bare = e.Parts
	case Reported:
		return r.reported(e)
	}
	return nil
}

// Forget drops the history, before it is recalled from the store anew.
func (r *Room) Forget() {
	r.history = history{}
	r.weather.forget()
	for _, j := range r.jobs {
		j.reset()
	}
	r.dirty = true
}

func (r *Room) arrived(e Arrived) []Effect {
	present := r.takeIn(e) || r.owed
	if r.owed = false; !present {
		r.dirty = true // and waits for the next tick: much of it may come at once
		return nil
	}
	return append(r.reckon(), Show{})
}

// takeIn takes a round in, and reports whether it speaks for the present.
func (r *Room) takeIn(e Arrived) bool {
	r.pass(e.At)
	n := r.node(e.Round.Node)
	dated := n.dating.dates(e)
	n.dating.correct(e)
	present := n.hear(e, dated)
	if dated {
		r.add(e.Round)
	}
	return present
}

// recalled takes a round from the store. There, one whose time nobody believed
// is still not set.
func (r *Room) recalled(round sensors.Round) {
	if !round.ClockSet && round.Boot != "" {
		return
	}
	n := r.node(round.Node)
	if round.Time.After(n.stored) {
		n.stored = round.Time
	}
	r.add(round)
}

// add puts a dated round into the history.
func (r *Room) add(round sensors.Round) {
	changed, fresh := r.history.add(round)
	if !changed {
		return
	}
	r.dirty = r.dirty || fresh || round.Time.Before(r.worked)
	r.weather.changed(round.Time)
	for _, j := range r.jobs {
		j.changed(round.Time)
	}
}

func (r *Room) described(e Described) []Effect {
	r.cfg.Title, r.cfg.Limits = e.Title, orDefault(e.Limits)
	r.dirty = true
	return []Effect{Show{}}
}

func orDefault(l drying.Limits) drying.Limits {
	if l == (drying.Limits{}) {
		return drying.DefaultLimits()
	}
	return l
}

func (r *Room) jobsChanged(e JobsChanged) []Effect {
	old := r.jobs
	r.jobs = make([]*followed, 0, len(e.Jobs))
	for _, job := range e.Jobs {
		r.jobs = append(r.jobs, resume(old, job))
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

// pass moves time on. Nodes that the store told of are waited for from the first
// instant on.
func (r *Room) pass(at alert.Instant) {
	if r.now.Wall.IsZero() {
		r.began = at
		for _, n := range r.nodes {
			n.heard = at
		}
	}
	r.now = at
}

func (r *Room) tick(at alert.Instant) []Effect {
	r.pass(at)
	var reload []Effect
	for _, n := range r.nodes {
		if n.dating.settled(at) {
			reload = []Effect{Reload{}}
		}
	}
	if !r.due() {
		return append(r.notify(r.cfg.Engine.Step(at, r.findings())), reload...)
	}
	return append(append(r.reckon(), reload...), Show{})
}

func (r *Room) seen(e Seen) []Effect {
	t, ok := r.cfg.Engine.Acknowledge(e.Episode, e.At)
	if !ok {
		return nil
	}
	return append(r.notify([]alert.Transition{t}), Show{})
}

// snoozed puts an alert off, where the engine allows it.
func (r *Room) snoozed(e Snoozed) []Effect {
	t, err := r.cfg.Engine.Snooze(e.Episode, e.Until, e.At)
	if err != nil {
		return nil
	}
	return append(r.notify([]alert.Transition{t}), Show{})
}

// due reports whether the coats are to be reckoned: there is something new to
// count, or a minute has passed.
func (r *Room) due() bool {
	since := r.now.Wall.Sub(r.worked)
	return r.dirty || since >= slotWidth || since < 0
}

// reckon brings the verdict up to the present, the coats too where they are due,
// and asks the rules.
func (r *Room) reckon() []Effect {
	r.verdict = r.judge()
	if r.due() {
		r.worked, r.dirty = r.now.Wall, false
		r.trim()
		for _, j := range r.jobs {
			j.reckon(&r.history, r.now.Wall)
			j.promise(&r.history, r.now.Wall, !r.cfg.NoForecast)
			if r.cfg.NoForecast {
				continue
			}
			ahead := r.weather.over(j.Probe, &r.history, r.now.Wall)
			j.expect(r.now.Wall, &r.history, ahead)
			j.think(r.now.Wall, &r.history, ahead, r.cfg.Location)
		}
		if !r.cfg.NoForecast {
			r.look()
		}
		r.compare()
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

func (r *Room) notify(transitions []alert.Transition) []Effect {
	if len(transitions) == 0 {
		return nil
	}
	return []Effect{Notify{Transitions: transitions}}
}
