package alert

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
	"time"
)

// longestHold is how long a message is held back at most, whatever the clock on
// the wall shows.
const longestHold = 24 * time.Hour

// RouterConfig is what a router needs.
type RouterConfig struct {
	Channels []string       // are told everything
	Second   []string       // are told what nobody acknowledged on those
	After    time.Duration  // from the telling to Second; 0: never
	Quiet    QuietHours     // the zero value: none
	Zone     *time.Location // the shop's
	Resume   Standing       // as an earlier run left it
}

// Router decides who is told of a transition and when. It is pure and for one
// goroutine. What it holds back it returns as messages of status Held: they are
// committed as they are, and resumed from Outbox.Standing.
//
// In quiet hours all is held back but what was asked for and what is critical
// and not over; at their end one digest for each channel tells it. While a node is silent, what is
// found of its channels, its clock and its supply is held back too. A warning
// that nobody acknowledged is told to the second channels as well, which from
// then on hear everything of that episode. The time for that runs from the
// telling, whether or not a channel took it: a dead one is the best reason.
type Router struct {
	cfg     RouterConfig
	threads map[string]*thread // by episode
	held    []heldBack
	started bool
}

// thread is what the router remembers of an episode that is not over.
type thread struct {
	episode   Episode
	told      bool          // other than by messages still held
	at        time.Duration // when it was last told
	escalated bool
}

type heldBack struct {
	Message
	since time.Duration
}

// NewRouter checks the configuration and takes up what an earlier run held.
func NewRouter(c RouterConfig) (*Router, error) {
	if c.Zone == nil {
		return nil, errors.New("alerts: no time zone: the shop's is needed")
	}
	if err := c.Quiet.check(); err != nil {
		return nil, fmt.Errorf("alerts: %w", err)
	}
	for _, s := range c.Second {
		if slices.Contains(c.Channels, s) {
			return nil, fmt.Errorf("alerts: %q is told everything and cannot be a second channel as well", s)
		}
	}
	r := &Router{cfg: c, threads: map[string]*thread{}}
	for _, e := range c.Resume.Episodes {
		r.threads[e.ID] = &thread{episode: e, told: true, escalated: slices.Contains(c.Resume.Escalated, e.ID)}
	}
	for _, m := range c.Resume.Held {
		r.held = append(r.held, heldBack{Message: m})
		if t := r.threads[m.Episode]; t != nil && m.Cause == First {
			t.told = false
		}
	}
	return r, nil
}

// Route returns the messages that one instant calls for. It is called with the
// transitions of every step, none included, so that quiet hours end in time.
func (r *Router) Route(now Instant, transitions []Transition) []Message {
	r.start(now)
	for _, t := range transitions {
		r.note(t)
	}
	_, quiet := r.cfg.Quiet.Until(now.Wall, r.cfg.Zone)
	var out []Message
	for _, t := range transitions {
		if t.Cause != Untold {
			out = append(out, r.tell(now, quiet, t)...)
		}
	}
	out = append(out, r.release(now, quiet)...)
	out = append(out, r.escalate(now, quiet)...)
	maps.DeleteFunc(r.threads, func(_ string, t *thread) bool { return t.episode.State == Cleared })
	return out
}

// start lets the times of what was resumed run from the first instant.
func (r *Router) start(now Instant) {
	if r.started {
		return
	}
	r.started = true
	for _, t := range r.threads {
		t.at = now.Mono
	}
	for i := range r.held {
		r.held[i].since = now.Mono
	}
}

func (r *Router) note(t Transition) {
	if t.Episode.State == Pending || t.lapsed() {
		return
	}
	if known := r.threads[t.Episode.ID]; known != nil {
		known.episode = t.Episode
		return
	}
	r.threads[t.Episode.ID] = &thread{episode: t.Episode}
}

func (r *Router) tell(now Instant, quiet bool, t Transition) []Message {
	thread := r.threads[t.Episode.ID]
	wakes := (t.Episode.Severity == Critical || t.Wish != "") && t.Cause != Ended
	hold := r.muted(t.Episode) || quiet && !wakes
	messages := Compose([]Transition{t}, r.audience(thread))
	for i := range messages {
		m := &messages[i]
		if hold {
			m.Status = Held
			r.held = append(r.held, heldBack{Message: *m, since: now.Mono})
			continue
		}
		past := r.take(func(h heldBack) bool { return h.Episode == m.Episode && h.Channel == m.Channel })
		m.Folds = ids(past)
		if m.Cause == Ended {
			*m = withPast(*m, past, now.Wall.In(r.cfg.Zone))
		}
	}
	if !hold {
		thread.told, thread.at = true, now.Mono
	}
	return messages
}

func (r *Router) audience(t *thread) []string {
	all := r.cfg.Channels
	if t.escalated {
		all = slices.Concat(all, r.cfg.Second)
	}
	if t.episode.Key.Rule != ruleChannel {
		return all
	}
	// That a channel fails is no news for it to bring.
	not := func(names []string) []string {
		return slices.DeleteFunc(slices.Clone(names), func(name string) bool { return name == t.episode.Key.Subject })
	}
	if all = not(all); len(all) == 0 {
		all = not(r.cfg.Second)
	}
	return all
}

// muted reports whether a silent node explains an episode. What is critical is
// never explained away.
func (r *Router) muted(child Episode) bool {
	if child.Severity == Critical {
		return false
	}
	for _, t := range r.threads {
		if t.episode.State != Cleared && mutes(t.episode.Key, child.Key) {
			return true
		}
	}
	return false
}

func mutes(parent, child Key) bool {
	if parent.Rule != ruleSilent || parent.Room != child.Room {
		return false
	}
	switch child.Rule {
	case ruleMute, ruleDoubt, ruleCheck, ruleDrift, ruleClock, ruleSupply:
		return child.Subject == parent.Subject || strings.HasPrefix(child.Subject, parent.Subject+"/")
	}
	return false
}

// take removes the held messages that fit, and returns them.
func (r *Router) take(fits func(heldBack) bool) []Message {
	var taken []Message
	r.held = slices.DeleteFunc(r.held, func(h heldBack) bool {
		if !fits(h) {
			return false
		}
		taken = append(taken, h.Message)
		return true
	})
	return taken
}

// release makes a digest, for each channel, of what is no longer held back.
func (r *Router) release(now Instant, quiet bool) []Message {
	free := r.take(func(h heldBack) bool {
		if now.Mono-h.since >= longestHold {
			return true
		}
		return !quiet && !r.muted(Episode{Key: h.Key, Severity: h.Severity})
	})
	var out []Message
	var channels []string
	for _, m := range free {
		if t := r.threads[m.Episode]; t != nil {
			t.told, t.at = true, now.Mono
		}
		if !slices.Contains(channels, m.Channel) {
			channels = append(channels, m.Channel)
		}
	}
	for _, c := range channels {
		of := slices.DeleteFunc(slices.Clone(free), func(m Message) bool { return m.Channel != c })
		out = append(out, digest(of, r.over, now.Wall.In(r.cfg.Zone)))
	}
	return out
}

func (r *Router) over(episode string) bool {
	t := r.threads[episode]
	return t == nil || t.episode.State == Cleared
}

func (r *Router) escalate(now Instant, quiet bool) []Message {
	if r.cfg.After <= 0 || len(r.cfg.Second) == 0 {
		return nil
	}
	var due []Transition
	for _, t := range r.threads {
		e := t.episode
		open := e.State == Raised && t.told && !t.escalated && e.Severity >= Warning
		if !open || now.Mono-t.at < r.cfg.After || r.muted(e) || quiet && e.Severity != Critical {
			continue
		}
		t.escalated = true
		body := fmt.Sprintf(bodyUnanswered, span(r.cfg.After)) + e.Body
		due = append(due, Transition{Episode: e, Cause: Escalated, Title: e.Title, Body: body, At: e.RaisedAt})
	}
	sort.Slice(due, func(i, j int) bool {
		return cmp.Or(due[i].At.Compare(due[j].At), cmp.Compare(due[i].Episode.ID, due[j].Episode.ID)) < 0
	})
	return Compose(due, r.cfg.Second)
}
