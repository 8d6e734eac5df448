package telemetry

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/sensors"
)

// Outbox is what a Courier sends from; a Spool is one.
type Outbox interface {
	Pending(ctx context.Context, after Place, limit int) ([]Entry, error)
	Settle(ctx context.Context, r Receipt) error
	Refuse(ctx context.Context, r Refusal) error
	Appended() <-chan struct{}
	Corrected() <-chan struct{}
}

// CourierConfig is what a Courier needs. Zero durations and counts take their
// defaults.
type CourierConfig struct {
	Link       Link
	Room, Node string
	Boot       string
	Outbox     Outbox
	Log        *slog.Logger
	InFlight   int              // rounds sent and not acknowledged; 20
	Resend     time.Duration    // how long an acknowledgement may take; 30 s
	Now        func() time.Time // the wall clock, for the node's state
}

const (
	defaultInFlight = 20
	defaultResend   = 30 * time.Second
	receiptQueue    = 64
	restate         = time.Minute
)

// Courier sends a node's rounds to the hub, in order, and lets go of them only
// when the hub says that it made them durable. What the broker acknowledges
// counts for nothing: the client reports a publication done when a connection
// is cut before the broker answered.
type Courier struct {
	cfg      CourierConfig
	up       chan struct{}
	receipts chan Receipt
	refusals chan Refusal
	window   *window
	client   mqtt.Client
	deaf     bool // acknowledgements are not subscribed to
	troubles map[string]string
	sent     atomic.Int64
	settled  atomic.Int64
	refused  atomic.Int64
	beats    atomic.Uint64
	stated   time.Time // when the node last said that it is there
}

// CourierStats counts since the start.
type CourierStats struct {
	Sent     int64 // publications of rounds, repeats with them
	Receipts int64 // acknowledgements acted on
	Refused  int64 // rounds that could not be written as a pack, and bad acknowledgements
}

// NewCourier checks the configuration; Run starts it.
func NewCourier(cfg CourierConfig) (*Courier, error) {
	if err := errors.Join(cfg.Link.check(), checkNames(cfg.Room, cfg.Node)); err != nil {
		return nil, fmt.Errorf("courier: %w", err)
	}
	if !validBoot(cfg.Boot) {
		return nil, fmt.Errorf("courier: the boot is named %q: want 1 to %d letters, digits or '-'", cfg.Boot, maxBoot)
	}
	if cfg.Outbox == nil {
		return nil, errors.New("courier: there is nothing to send from")
	}
	if cfg.InFlight == 0 {
		cfg.InFlight = defaultInFlight
	}
	if cfg.Resend == 0 {
		cfg.Resend = defaultResend
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	return &Courier{
		cfg:      cfg,
		up:       make(chan struct{}, 1),
		receipts: make(chan Receipt, receiptQueue),
		refusals: make(chan Refusal, receiptQueue),
		window:   newWindow(cfg.InFlight, cfg.Resend),
		troubles: map[string]string{},
	}, nil
}

// Stats can be called at any time.
func (c *Courier) Stats() CourierStats {
	return CourierStats{Sent: c.sent.Load(), Receipts: c.settled.Load(), Refused: c.refused.Load()}
}

// Beats rises as long as delivery goes on. That there is no broker, or no hub
// behind it, excuses it: a node started anew would not find them either. A client
// that is connected and does not get rid of what it was given stops it.
func (c *Courier) Beats() uint64 { return c.beats.Load() }

// Run sends until ctx ends, then says that the node is offline and returns
// nil. It may be called once.
func (c *Courier) Run(ctx context.Context) error {
	options := c.cfg.Link.options(ctx, "recoat:"+c.cfg.Room+":"+c.cfg.Node, c.up, c.cfg.Log)
	options.SetBinaryWill(c.topic(State), c.state(false), 1, true)
	options.SetReconnectingHandler(func(_ mqtt.Client, o *mqtt.ClientOptions) {
		o.SetBinaryWill(c.topic(State), c.state(false), 1, true)
	})
	c.client = mqtt.NewClient(options)
	c.client.Connect()
	defer c.leave()
	tick := time.NewTicker(c.cfg.Resend / 4)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-c.up:
			c.greet(ctx)
		case r := <-c.receipts:
			c.settle(ctx, r)
		case r := <-c.refusals:
			c.setAside(ctx, r)
		case <-c.cfg.Outbox.Corrected():
			c.window.rewind()
		case <-c.cfg.Outbox.Appended():
		case now := <-tick.C:
			c.window.expire(now)
			if now.Sub(c.stated) >= restate && c.client.IsConnectionOpen() {
				c.sayOnline()
			}
			if c.deaf && c.client.IsConnectionOpen() {
				c.greet(ctx)
			}
		}
		c.pump(ctx)
		if !c.client.IsConnectionOpen() || !c.window.clogged(time.Now()) {
			c.beats.Add(1)
		}
	}
}

func (c *Courier) topic(k Kind) string {
	return Topic{Room: c.cfg.Room, Node: c.cfg.Node, Kind: k}.String()
}

func (c *Courier) state(online bool) []byte {
	return NodeState{Online: online, Boot: c.cfg.Boot, At: c.cfg.Now()}.Encode()
}

// greet is done after every connection: the broker may have lost the session,
// and the client does not subscribe again by itself.
func (c *Courier) greet(ctx context.Context) {
	c.window.rewind()
	err := subscribe(ctx, c.client, c.receive, c.topic(Stored), c.topic(Refused))
	c.report("listen for acknowledgements", err)
	c.deaf = err != nil
	c.sayOnline()
}

// sayOnline also tells the hub what this node's clock shows, by which it knows
// how old a round is whose clock was never set.
func (c *Courier) sayOnline() {
	c.client.Publish(c.topic(State), 1, true, c.state(true))
	c.stated = time.Now()
}

// receive is the client's handler and must not wait: what finds the queue full
// is sent again and acknowledged again.
func (c *Courier) receive(_ mqtt.Client, m mqtt.Message) {
	if m.Topic() == c.topic(Refused) {
		c.receiveRefusal(m)
		return
	}
	r, err := DecodeReceipt(m.Payload())
	if err != nil {
		c.refused.Add(1)
		c.cfg.Log.Warn("acknowledgement refused", "topic", m.Topic(), "reason", err)
		return
	}
	select {
	case c.receipts <- r:
	default:
	}
}

func (c *Courier) receiveRefusal(m mqtt.Message) {
	r, err := DecodeRefusal(m.Payload())
	if err != nil {
		c.refused.Add(1)
		c.cfg.Log.Warn("refusal refused", "topic", m.Topic(), "reason", err)
		return
	}
	select {
	case c.refusals <- r:
	default:
	}
}

// setAside stops sending a round that the hub will not have.
func (c *Courier) setAside(ctx context.Context, r Refusal) {
	if err := c.cfg.Outbox.Refuse(ctx, r); err != nil {
		c.report("set a refused round aside", err)
		return
	}
	c.refused.Add(1)
	c.report("have a round taken by the hub; it is set aside until the next start", errors.New(r.Why))
	c.window.acknowledged(Receipt{Boot: r.Boot, ClockSet: r.ClockSet, Spans: []Span{{r.Seq, r.Seq}}})
}

func (c *Courier) settle(ctx context.Context, r Receipt) {
	if err := c.cfg.Outbox.Settle(ctx, r); err != nil {
		c.report("let go of acknowledged rounds", err)
		return
	}
	c.settled.Add(1)
	c.window.acknowledged(r)
}

// pump sends what the window has room for.
func (c *Courier) pump(ctx context.Context) {
	for c.window.free() > 0 && c.client.IsConnectionOpen() {
		entries, err := c.cfg.Outbox.Pending(ctx, c.window.cursor, c.window.free())
		c.report("read the spool", err)
		if err != nil || len(entries) == 0 && !c.window.end() {
			return
		}
		now := time.Now()
		for _, e := range entries {
			if c.window.pass(e) {
				c.publish(e.Round, now)
			}
		}
	}
}

func (c *Courier) publish(r sensors.Round, now time.Time) {
	payload, err := EncodeRound(c.cfg.Room, r)
	if err != nil {
		c.refused.Add(1)
		c.cfg.Log.Error("round cannot be sent", "boot", r.Boot, "seq", r.Seq, "reason", err)
		return
	}
	token := c.client.Publish(c.topic(Readings), 1, false, payload)
	c.window.sent(r, now, token.Done())
	c.sent.Add(1)
}

// report logs a failure once until it changes or is over. Being stopped is none.
func (c *Courier) report(doing string, err error) {
	if errors.Is(err, context.Canceled) {
		return
	}
	reason := ""
	if err != nil {
		reason = err.Error()
	}
	if reason != "" && reason != c.troubles[doing] {
		c.cfg.Log.Error("courier", "doing", doing, "reason", reason)
	}
	c.troubles[doing] = reason
}

// leave says goodbye, since a broker publishes no will for a client that
// disconnects in order.
func (c *Courier) leave() {
	if c.client.IsConnectionOpen() {
		c.client.Publish(c.topic(State), 1, true, c.state(false)).WaitTimeout(farewellWait)
	}
	c.client.Disconnect(disconnectMilli)
}
