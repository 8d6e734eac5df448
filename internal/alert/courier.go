package alert

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// Channel is one way to a person. Send returns nil once the message is taken
// over for delivery, and returns in any case soon after ctx ends. Its errors
// hold no secret. After an error the message may still have arrived.
type Channel interface {
	Name() string // unique among the channels in use
	Send(ctx context.Context, m Message) error
}

const (
	workers       = 2
	shortestPause = 30 * time.Second
	longestPause  = 30 * time.Minute
	jitterShare   = 0.2              // of a pause, either way
	lateAfter     = 2 * time.Minute  // a message older than this says when it was
	idleLook      = time.Minute      // looks at least this often, for clocks that step
	sendDeadline  = 20 * time.Second // for one try
	giveUpAfter   = 24 * time.Hour
)

// CourierConfig is what a courier needs.
type CourierConfig struct {
	Outbox   *Outbox
	Channels []Channel
	Log      *slog.Logger
	Now      func() time.Time // its location is used for times in messages
	Jitter   func() float64   // evenly from [0, 1)
	Links    *Linker          // nil: messages offer no links
	Deadline time.Duration    // for one try; 0: 20 s
	GiveUp   time.Duration    // pauses between tries, in all; 0: 24 h
}

// Courier takes messages from the outbox to their channels, each at least once.
type Courier struct {
	outbox           *Outbox
	ways             map[string]*way
	links            *Linker
	log              *slog.Logger
	now              func() time.Time
	jitter           func() float64
	deadline, giveUp time.Duration
}

// NewCourier checks that no two channels share a name.
func NewCourier(c CourierConfig) (*Courier, error) {
	ways := make(map[string]*way, len(c.Channels))
	for _, ch := range c.Channels {
		if ways[ch.Name()] != nil {
			return nil, fmt.Errorf("two channels are called %q: give each a name of its own", ch.Name())
		}
		ways[ch.Name()] = newWay(ch)
	}
	return &Courier{
		outbox: c.Outbox, ways: ways, links: c.Links, log: c.Log, now: c.Now, jitter: c.Jitter,
		deadline: cmp.Or(c.Deadline, sendDeadline), giveUp: cmp.Or(c.GiveUp, giveUpAfter),
	}, nil
}

// Run delivers until ctx ends, then waits for the tries under way to return.
// Two messages are tried at once, never two of one channel, so that a dead
// channel holds up no other.
func (c *Courier) Run(ctx context.Context) error {
	if err := c.outbox.Recover(ctx, c.now()); err != nil && ctx.Err() == nil {
		return err
	}
	var wg sync.WaitGroup
	defer wg.Wait()
	done := make(chan string, workers)
	busy := map[string]bool{}
	for ctx.Err() == nil {
		due, err := c.outbox.Due(ctx, c.now())
		if err != nil && ctx.Err() == nil {
			c.log.Error("cannot see what is to be sent", "error", err)
		}
		for _, m := range due {
			if len(busy) == workers || busy[m.Channel] {
				continue
			}
			busy[m.Channel] = true
			wg.Go(func() {
				c.deliver(ctx, m)
				done <- m.Channel
			})
		}
		c.wait(ctx, done, busy)
	}
	return nil
}

// wait returns when something may be due.
func (c *Courier) wait(ctx context.Context, done <-chan string, busy map[string]bool) {
	pause := idleLook
	if next, ok, err := c.outbox.NextTry(ctx); ok && err == nil {
		pause = min(pause, max(next.Sub(c.now()), time.Second))
	}
	timer := time.NewTimer(pause)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	case <-c.outbox.Changed():
	case channel := <-done:
		delete(busy, channel)
	}
}

// deliver tries m once and notes the outcome. A try cut short by the end of ctx
// stays noted as under way, and is made again by the next run.
func (c *Courier) deliver(ctx context.Context, m Message) {
	way := c.ways[m.Channel]
	if way == nil {
		c.note(ctx, m, func() error { return c.outbox.Drop(ctx, m.ID, c.now(), "this channel is no longer configured") })
		return
	}
	if stale(m, c.now()) {
		c.note(ctx, m, func() error { return c.outbox.Drop(ctx, m.ID, c.now(), staleNote) })
		return
	}
	if !way.take(ctx) {
		return
	}
	defer way.leave()
	if whole, err := c.outbox.Collapse(ctx, m, c.now()); err == nil {
		m = whole
	} else if ctx.Err() == nil {
		c.log.Error("a late message is sent without its end", "channel", m.Channel, "episode", m.Episode, "error", err)
	}
	if !c.note(ctx, m, func() error { return c.outbox.Begin(ctx, m.ID, c.now()) }) {
		return
	}
	m.Attempts++
	m.Status = Sending
	sending, cancel := context.WithTimeout(ctx, c.deadline)
	err := way.Send(sending, c.offering(late(m, c.now())))
	cancel()
	if err != nil && ctx.Err() != nil {
		return
	}
	// What is known by now is noted even while the hub stops.
	c.note(ctx, m, c.outcome(context.WithoutCancel(ctx), m, err))
}

// offering puts in what can be done about m. A message without its links is
// better than none.
func (c *Courier) offering(m Message) Message {
	if c.links == nil {
		return m
	}
	replies, err := c.links.Replies(m, c.now())
	if err != nil {
		c.log.Error("a message is sent without its links", "channel", m.Channel, "episode", m.Episode, "error", err)
		return m
	}
	m.Replies = replies
	return m
}

// staleAfter is when news that nobody need act on is too old to be told by
// itself: half a day, common practice, no source.
const staleAfter = 12 * time.Hour

// stale reports a message that is dropped, as it is long past. What warns is
// told however late it is; what was held back over night is told at its end.
func stale(m Message, now time.Time) bool {
	return m.Severity == Info && m.Cause != Digest && now.Sub(m.At) > staleAfter
}

// outcome logs how a try went and returns what notes it.
func (c *Courier) outcome(ctx context.Context, m Message, err error) func() error {
	if err == nil {
		return func() error { return c.outbox.Done(ctx, m.ID, c.now()) }
	}
	pause := pauseAfter(m.Attempts, c.jitter())
	if busy, ok := errors.AsType[*BusyError](err); ok {
		pause = min(max(pause, busy.After), longestBusy)
	}
	log := c.log.With("channel", m.Channel, "episode", m.Episode, "attempt", m.Attempts, "error", err)
	if errors.Is(err, ErrGone) {
		log.Error("message given up")
		return func() error { return c.outbox.Drop(ctx, m.ID, c.now(), err.Error()) }
	}
	if m.Waited+pause > c.giveUp {
		log.Error("message given up")
		why := fmt.Sprintf("given up after %d tries: %v", m.Attempts, err)
		return func() error { return c.outbox.Drop(ctx, m.ID, c.now(), why) }
	}
	log.Warn("message not sent, will try again", "pause", pause)
	return func() error { return c.outbox.Retry(ctx, m.ID, c.now(), pause, err.Error()) }
}

// note writes to the outbox until it succeeds or ctx ends, and reports which.
// Meanwhile the channel rests: what cannot be noted must not be sent.
func (c *Courier) note(ctx context.Context, m Message, write func() error) bool {
	for {
		err := write()
		if err == nil {
			return true
		}
		if ctx.Err() != nil {
			return false
		}
		c.log.Error("cannot note a message's fate", "channel", m.Channel, "episode", m.Episode, "error", err)
		if errors.Is(err, ErrNoMessage) {
			return false
		}
		select {
		case <-ctx.Done():
		case <-time.After(shortestPause):
		}
	}
}

// pauseAfter doubles from the shortest pause to the longest; jitter is from
// [0, 1).
func pauseAfter(attempts uint32, jitter float64) time.Duration {
	pause := shortestPause << min(max(attempts, 1)-1, 10)
	pause = min(pause, longestPause)
	pause += time.Duration(float64(pause) * jitterShare * (2*jitter - 1))
	return min(max(pause, shortestPause), longestPause)
}

// late says in the body when the thing happened, where that is a while ago.
func late(m Message, now time.Time) Message {
	if now.Sub(m.At) > lateAfter {
		m.Body = fmt.Sprintf(lateNotice, clock(m.At.In(now.Location()), now)) + m.Body
	}
	return m
}
