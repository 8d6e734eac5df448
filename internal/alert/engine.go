package alert

import (
	"cmp"
	"errors"
	"fmt"
	"sort"
	"time"
)

// Instant is one moment on both clocks. Durations are reckoned from Mono alone,
// so that a wall clock set by a day raises, repeats and clears nothing; Wall is
// only what is shown.
type Instant struct {
	Wall time.Time
	Mono time.Duration // since some fixed moment of this run
}

// Transition is one step of one episode. Cause is Untold where nobody needs to
// hear of it; else Title and Body say what to tell.
type Transition struct {
	Episode Episode // after the step
	From    State
	Cause   Cause
	Title   string
	Body    string
	At      time.Time
	Wish    string // that this telling grants; empty: none
}

// lapsed reports an episode that ended before it was raised.
func (t Transition) lapsed() bool {
	return t.Episode.State == Cleared && t.Episode.RaisedAt.IsZero()
}

// MaxSnooze is the longest that an episode can be put off.
const MaxSnooze = 24 * time.Hour

// defaultGap is the longest time between two steps that still counts as
// covered.
const defaultGap = 10 * time.Minute

// EngineConfig is what an engine needs.
type EngineConfig struct {
	NewID  func() string // never gives the same twice, over restarts too
	Gap    time.Duration // between two steps, the longest that counts as covered; 0: ten minutes
	Resume []Episode     // as an earlier run left them
}

// Engine turns findings into episodes. It is pure and for one goroutine.
type Engine struct {
	newID  func() string
	gap    time.Duration
	tracks map[Key]*track
}

// track is what the engine remembers of one key. The durations count covered
// time: both ends of an interval gave the same, known answer.
type track struct {
	episode  Episode
	last     Tri
	at       time.Duration // of the last step
	held     time.Duration // true, while pending
	clearing time.Duration // false, while raised
	told     time.Duration // true since it was last told
	wake     time.Duration // when the snooze ends, if timed
	timed    bool          // wake was reckoned in this run
}

// NewEngine resumes the episodes given: those raised are not raised again,
// those pending hold from the start, those to be told once stay told.
func NewEngine(c EngineConfig) *Engine {
	e := &Engine{newID: c.NewID, gap: cmp.Or(c.Gap, defaultGap), tracks: map[Key]*track{}}
	for _, episode := range c.Resume {
		if episode.State != Cleared || episode.Once {
			e.tracks[episode.Key] = &track{episode: episode}
		}
	}
	return e
}

// Step takes every finding of one instant and returns what follows, in the
// order of the findings. A key that is not among them is Unknown.
func (e *Engine) Step(now Instant, findings []Finding) []Transition {
	var out []Transition
	seen := make(map[Key]bool, len(findings))
	for _, f := range findings {
		seen[f.Key] = true
		if t, ok := e.step(now, f); ok {
			out = append(out, t)
		}
	}
	for key, t := range e.tracks {
		if !seen[key] {
			t.last = Unknown
		}
	}
	return out
}

func (e *Engine) step(now Instant, f Finding) (Transition, bool) {
	t := e.tracks[f.Key]
	if t == nil {
		if f.Condition != True {
			return Transition{}, false
		}
		return e.begin(now, f)
	}
	answer := f.Condition
	if answer == Between {
		answer = t.last
	}
	covered := t.cover(now.Mono, answer, e.gap)
	switch {
	case t.episode.State == Cleared: // told once, over
	case answer == True:
		return t.isTrue(now, f, covered)
	case f.Condition == False:
		return e.isFalse(t, now, f, covered)
	case answer == False: // between: it may end at the next False
		t.clearing += covered
	}
	return Transition{}, false
}

// cover returns how much of the time since the last step counts.
func (t *track) cover(mono time.Duration, answer Tri, gap time.Duration) time.Duration {
	d, same := mono-t.at, t.last == answer && answer != Unknown
	t.at, t.last = mono, answer
	if !same || d < 0 || d > gap {
		return 0
	}
	return d
}

func (e *Engine) begin(now Instant, f Finding) (Transition, bool) {
	t := &track{
		episode: Episode{ID: e.newID(), Key: f.Key, State: Pending, Since: now.Wall, Once: f.Once},
		last:    True,
		at:      now.Mono,
	}
	e.tracks[f.Key] = t
	if tr, raised := t.isTrue(now, f, 0); raised {
		return tr, true
	}
	return Transition{Episode: t.episode, From: Pending, At: now.Wall}, true
}

func (t *track) isTrue(now Instant, f Finding, covered time.Duration) (Transition, bool) {
	t.clearing = 0
	if t.episode.State == Pending {
		t.held += covered
		t.episode.Severity, t.episode.Title, t.episode.Body = f.Severity, f.Title, f.Body
		if t.held < f.Hold {
			return Transition{}, false
		}
		t.episode.RaisedAt = now.Wall
		return t.tell(now, f, First), true
	}
	t.told += covered
	worse := f.Severity > t.episode.Severity
	again := f.Repeat > 0 && t.episode.State == Raised && t.told >= f.Repeat
	if !worse && !again && !t.woken(now) {
		return Transition{}, false
	}
	t.episode.Severity = max(t.episode.Severity, f.Severity)
	t.episode.Title, t.episode.Body = f.Title, f.Body
	return t.tell(now, f, Repeat), true
}

// tell makes the episode raised, and counts the telling.
func (t *track) tell(now Instant, f Finding, cause Cause) Transition {
	from := t.episode.State
	t.episode.State, t.told = Raised, 0
	t.episode.SnoozedUntil, t.timed = time.Time{}, false
	t.episode.Told++
	return Transition{Episode: t.episode, From: from, Cause: cause, Title: f.Title, Body: f.Body, At: now.Wall, Wish: f.Wish}
}

func (e *Engine) isFalse(t *track, now Instant, f Finding, covered time.Duration) (Transition, bool) {
	t.clearing += covered
	if t.episode.State != Pending && t.clearing < f.Clear {
		return Transition{}, false
	}
	return e.end(t, now, f), true
}

// end clears the episode and tells of it if it was raised and f has a title.
func (e *Engine) end(t *track, now Instant, f Finding) Transition {
	from := t.episode.State
	t.episode.State, t.episode.EndedAt, t.episode.SnoozedUntil = Cleared, now.Wall, time.Time{}
	tr := Transition{From: from, At: now.Wall}
	if from != Pending && f.Title != "" {
		t.episode.Told++
		tr.Cause, tr.Title, tr.Body = Ended, f.Title, f.Body
	}
	tr.Episode = t.episode
	if from == Pending || !t.episode.Once {
		delete(e.tracks, t.episode.Key)
	}
	return tr
}

// Retire ends whatever there is under a key whose subject is gone, untold.
func (e *Engine) Retire(key Key, now Instant) (Transition, bool) {
	t := e.tracks[key]
	if t == nil || t.episode.State == Cleared {
		return Transition{}, false
	}
	return e.end(t, now, Finding{}), true
}

// RetireWhere does so for every key that fits, in order of key.
func (e *Engine) RetireWhere(fits func(Key) bool, now Instant) []Transition {
	var keys []Key
	for key := range e.tracks {
		if fits(key) {
			keys = append(keys, key)
		}
	}
	sort.Slice(keys, func(i, j int) bool { return keys[i].String() < keys[j].String() })
	var gone []Transition
	for _, key := range keys {
		if t, ok := e.Retire(key, now); ok {
			gone = append(gone, t)
		}
	}
	return gone
}

// Acknowledge notes that a person has seen a raised episode, and ends its
// snooze if it has one. It is false where there is nothing to note.
func (e *Engine) Acknowledge(id string, now Instant) (Transition, bool) {
	t := e.find(id)
	if t == nil || t.episode.State == Acknowledged && t.episode.SnoozedUntil.IsZero() {
		return Transition{}, false
	}
	return t.acknowledge(now, time.Time{}), true
}

// Snooze acknowledges an episode until a time by the clock on the wall, when it
// is told again if it is still so. The time is ahead, by at most MaxSnooze.
func (e *Engine) Snooze(id string, until time.Time, now Instant) (Transition, error) {
	t := e.find(id)
	d := until.Sub(now.Wall)
	switch {
	case t == nil:
		return Transition{}, fmt.Errorf("snooze: no alert %q is raised", id)
	case d <= 0:
		return Transition{}, errors.New("snooze: the time is over already: give a later one")
	case d > MaxSnooze:
		return Transition{}, fmt.Errorf("snooze: %s is too long: give at most %s", span(d), span(MaxSnooze))
	}
	t.wake, t.timed = now.Mono+d, true
	return t.acknowledge(now, until), nil
}

// find returns the raised or acknowledged episode of an ID, or nil.
func (e *Engine) find(id string) *track {
	for _, t := range e.tracks {
		if t.episode.ID == id && (t.episode.State == Raised || t.episode.State == Acknowledged) {
			return t
		}
	}
	return nil
}

func (t *track) acknowledge(now Instant, until time.Time) Transition {
	from := t.episode.State
	t.episode.State, t.episode.SnoozedUntil = Acknowledged, until
	return Transition{Episode: t.episode, From: from, At: now.Wall}
}

// woken reports a snooze that has run out. What is left of one from an earlier
// run is reckoned once by the wall clock, within bounds, so that no clock makes
// it last.
func (t *track) woken(now Instant) bool {
	if t.episode.SnoozedUntil.IsZero() {
		return false
	}
	if !t.timed {
		left := t.episode.SnoozedUntil.Sub(now.Wall)
		t.wake, t.timed = now.Mono+min(max(left, 0), MaxSnooze), true
	}
	return now.Mono >= t.wake
}

// Episodes returns what a later run needs to resume, oldest first.
func (e *Engine) Episodes() []Episode {
	all := make([]Episode, 0, len(e.tracks))
	for _, t := range e.tracks {
		all = append(all, t.episode)
	}
	sort.Slice(all, func(i, j int) bool {
		return cmp.Or(all[i].Since.Compare(all[j].Since), cmp.Compare(all[i].ID, all[j].ID)) < 0
	})
	return all
}
