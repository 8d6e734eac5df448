package telemetry

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// ClaimantConfig is what a Claimant needs.
type ClaimantConfig struct {
	Link     Link
	Hub      string
	Rooms    []string // its own; none: every room
	Instance string   // this start of it
	Log      *slog.Logger
	Now      func() time.Time // the wall clock; nil is time.Now
	// Settle is how long the claims of others are listened for first; 0: two
	// seconds. Renew is how often the own one is said again; 0: 30 seconds.
	Settle, Renew time.Duration
}

const (
	defaultSettle = 2 * time.Second
	defaultRenew  = 30 * time.Second
)

// Claimant says at the broker which rooms are this hub's, and hears which are
// others'. It has a connection of its own, so that a broker that lets it neither
// speak nor listen keeps nothing from the hub.
type Claimant struct {
	cfg     ClaimantConfig
	gone    []byte // what the will says
	began   time.Time
	up      chan struct{}
	heard   chan struct{}
	settled chan struct{}
	open    sync.Once // closes settled
	warned  sync.Once
	client  mqtt.Client

	told []string // the overlaps that were logged

	mu     sync.Mutex
	roster *roster
	answer bool // the claim is to be said again
}

// NewClaimant checks the configuration; Run starts it.
func NewClaimant(cfg ClaimantConfig) (*Claimant, error) {
	own := Claim{Hub: cfg.Hub, Instance: cfg.Instance, Rooms: slices.Clone(cfg.Rooms)}
	gone, err := Claim{Hub: cfg.Hub, Instance: cfg.Instance, Gone: true}.Encode()
	if err := cmp.Or(err, cfg.Link.check(), CheckOwnRooms(cfg.Rooms)); err != nil {
		return nil, fmt.Errorf("claim rooms: %w", err)
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	cfg.Settle, cfg.Renew = cmp.Or(cfg.Settle, defaultSettle), cmp.Or(cfg.Renew, defaultRenew)
	return &Claimant{
		cfg: cfg, gone: gone, began: time.Now(), roster: newRoster(own),
		up: make(chan struct{}, 1), heard: make(chan struct{}, 1), settled: make(chan struct{}),
	}, nil
}

// Settled is closed once the claims of the hubs that were there before are known,
// or it is known that the broker tells none.
func (c *Claimant) Settled() <-chan struct{} { return c.settled }

// Owns reports whether a room is this hub's now: its own by configuration, and
// claimed by no hub before it.
func (c *Claimant) Owns(room string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.roster.owns(room, c.mono())
}

// Troubles are the overlaps with other hubs, a sentence each.
func (c *Claimant) Troubles() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.roster.troubles(c.mono())
}

func (c *Claimant) mono() time.Duration { return time.Since(c.began) }

// Run claims until ctx ends, then says that the hub is gone and returns nil. It may
// be called once.
func (c *Claimant) Run(ctx context.Context) error {
	link := c.cfg.Link
	link.ClientID = "" // it is the receiver's
	options := link.options(ctx, hubClient(c.cfg.Hub)+":claim", c.up, c.cfg.Log).SetCleanSession(true)
	options.SetBinaryWill(ClaimTopic(c.cfg.Hub), c.gone, 1, true)
	options.SetConnectionNotificationHandler(c.notify(options.OnConnectionNotification))
	c.client = mqtt.NewClient(options)
	c.client.Connect()
	defer c.leave()
	renew := time.NewTicker(c.cfg.Renew)
	defer renew.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-c.up:
			c.listen(ctx)
			c.settle(ctx)
			c.say()
		case <-c.heard:
			if c.toAnswer() {
				c.say()
			}
		case <-renew.C:
			c.say()
		}
		c.tell()
	}
}

// listen asks for the claims of all. A broker that refuses that leaves this hub
// to its configuration.
func (c *Claimant) listen(ctx context.Context) {
	err := subscribe(ctx, c.client, c.receive, ClaimTopic("+"))
	if err != nil && ctx.Err() == nil {
		c.unheard(err)
	}
}

// notify looks out for a broker that refuses the will's topic, and the connection
// with it: the hub is then left to its configuration.
func (c *Claimant) notify(tell mqtt.ConnectionNotificationHandler) mqtt.ConnectionNotificationHandler {
	return func(client mqtt.Client, n mqtt.ConnectionNotification) {
		tell(client, n)
		if failed, ok := n.(mqtt.ConnectionNotificationFailed); ok && errors.Is(failed.Reason, packets.ErrorRefusedNotAuthorised) {
			c.unheard(failed.Reason)
			c.open.Do(func() { close(c.settled) })
		}
	}
}

// unheard says once why nothing is known of other hubs.
func (c *Claimant) unheard(reason error) {
	c.warned.Do(func() {
		c.cfg.Log.Warn("this hub cannot hear which rooms are other hubs': let it read "+ClaimTopic("+")+" and write "+ClaimTopic(c.cfg.Hub)+" in the broker's access list; until then nothing here notices two hubs on one room", "reason", reason)
	})
}

// settle waits, the first time, for what the broker has kept of others.
func (c *Claimant) settle(ctx context.Context) {
	select {
	case <-c.settled:
		return
	default:
	}
	select {
	case <-ctx.Done():
		return
	case <-time.After(c.cfg.Settle):
		c.open.Do(func() { close(c.settled) })
	}
}

// say publishes the claim, where there is a broker and the first wait is over.
func (c *Claimant) say() {
	select {
	case <-c.settled:
	default:
		return
	}
	if !c.client.IsConnectionOpen() {
		return
	}
	c.mu.Lock()
	claim := c.roster.claim(c.cfg.Now(), c.mono())
	c.mu.Unlock()
	payload, err := claim.Encode()
	if err != nil {
		c.cfg.Log.Error("rooms cannot be claimed", "reason", err)
		return
	}
	c.client.Publish(ClaimTopic(c.cfg.Hub), 1, true, payload)
}

// receive is the client's handler and must not wait.
func (c *Claimant) receive(_ mqtt.Client, m mqtt.Message) {
	if err := c.take(m); err != nil {
		c.cfg.Log.Warn("another hub's claim refused", "topic", m.Topic(), "reason", err)
	}
	signal(c.heard)
}

// take notes what another hub says. One that is new is answered, so that it need
// not wait for the next renewal, and so is what stands in this hub's own place at
// the broker, such as its last start's will.
func (c *Claimant) take(m mqtt.Message) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(m.Payload()) == 0 {
		return nil // somebody cleared the topic
	}
	claim, err := DecodeClaim(m.Payload())
	if err != nil {
		return err
	}
	if m.Topic() != ClaimTopic(claim.Hub) {
		return fmt.Errorf("hub %s speaks on another's topic", claim.Hub)
	}
	if claim.Gone {
		c.roster.leave(claim)
		c.answer = c.answer || claim.Hub == c.cfg.Hub
		return nil
	}
	if c.roster.hear(claim, m.Retained(), c.mono()) {
		c.answer = true
	}
	return nil
}

// toAnswer reports, once, whether the claim is to be said again.
func (c *Claimant) toAnswer() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	answer := c.answer
	c.answer = false
	return answer
}

// tell logs each overlap once until it changes or is over.
func (c *Claimant) tell() {
	now := c.Troubles()
	for _, t := range now {
		if !slices.Contains(c.told, t) {
			c.cfg.Log.Error("two hubs on one room", "what", t)
		}
	}
	if len(now) == 0 && len(c.told) > 0 {
		c.cfg.Log.Info("no other hub asks for this hub's rooms any more")
	}
	c.told = now
}

// leave says that this hub is gone: a broker publishes no will for a client that
// disconnects in order.
func (c *Claimant) leave() {
	if c.client.IsConnectionOpen() {
		c.client.Publish(ClaimTopic(c.cfg.Hub), 1, true, c.gone).WaitTimeout(farewellWait)
	}
	c.client.Disconnect(disconnectMilli)
}
