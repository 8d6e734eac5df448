package telemetry

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"recoat/sensors"
)

// Delivery is what one publication brought to the hub.
type Delivery struct {
	Room, Node string
	Rounds     []sensors.Round // never empty
	// Stored is to be called once the rounds are durable, from any goroutine
	// and however late, or never: a node of ours then sends them again. It
	// does not wait. Calls after the first do nothing.
	Stored func()
	// Refused is to be called in its place where the rounds can never be made
	// durable: their node then stops sending them. It does not wait.
	Refused func(why string)
}

// ReceiverConfig is what a Receiver needs.
type ReceiverConfig struct {
	Link   Link
	Broker *Broker // of this process, heard without a connection; then Link is not used
	Hub    string  // the hub's name; empty: DefaultHub
	// Rooms are the only ones that are heard; none: all. Owns, where it is there,
	// says of each once more whether it is to be taken now: what is not is
	// neither handled nor acknowledged, and its node keeps it.
	Rooms []string
	Owns  func(room string) bool
	// Handle is called with one Delivery after the other. It may wait; what
	// does not fit into the queue meanwhile is not taken and comes again.
	Handle func(Delivery)
	// HandleState is called when a node comes or goes, or says once more that it is
	// there, in the order in which that and its rounds came. It may be nil.
	HandleState func(Report)
	Log         *slog.Logger
	Queue       int              // publications waiting for Handle; 0 is 2048
	Now         func() time.Time // the wall clock; nil is time.Now
}

// Report is the state of a node as it reached the hub.
type Report struct {
	Room, Node string
	NodeState
	Kept bool // by the broker, since nobody knows when; else it was said just now
}

const (
	defaultQueue = 2048
	ackQueue     = 4096
	relisten     = 10 * time.Second
	refusalQuiet = time.Minute
	roomsAtOnce  = 64 // in one request to subscribe
)

// DefaultHub is the name of a hub that has its broker to itself.
const DefaultHub = "hub"

// hubClient is the name of a hub's client. '@' is in no name of a room or a node.
func hubClient(hub string) string {
	if hub == "" || hub == DefaultHub {
		return "recoat:hub"
	}
	return "recoat:hub@" + hub
}

// ReceiverStats counts since the start.
type ReceiverStats struct {
	Packs        int64 // packs taken, of any device
	Rounds       int64 // rounds in them
	Refused      int64 // publications that were not understood; never acknowledged
	Dropped      int64 // publications that found the queue full
	Acknowledged int64 // rounds acknowledged
	Others       int64 // publications of rooms that are not this hub's
}

// message is a publication as the client handed it over.
type message struct {
	topic    string
	payload  []byte
	retained bool
	received time.Time
}

// ack is a round that became durable.
type ack struct {
	topic    string
	boot     string
	clockSet bool
	seq      uint64
}

// Receiver takes what nodes publish, at the hub.
type Receiver struct {
	cfg      ReceiverConfig
	up       chan struct{}
	messages chan message
	acks     chan ack
	line     line
	told     time.Time // when a refusal was last logged

	packs, rounds, refused, dropped, acknowledged, others atomic.Int64
}

// NewReceiver checks the configuration; Run starts it.
func NewReceiver(cfg ReceiverConfig) (*Receiver, error) {
	if cfg.Broker == nil {
		if err := cfg.Link.check(); err != nil {
			return nil, fmt.Errorf("receiver: %w", err)
		}
	}
	if cfg.Handle == nil {
		return nil, errors.New("receiver: nothing handles deliveries")
	}
	if err := CheckOwnRooms(cfg.Rooms); err != nil {
		return nil, fmt.Errorf("receiver: %w", err)
	}
	if cfg.Queue == 0 {
		cfg.Queue = defaultQueue
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	return &Receiver{
		cfg:      cfg,
		up:       make(chan struct{}, 1),
		messages: make(chan message, cfg.Queue),
		acks:     make(chan ack, ackQueue),
	}, nil
}

// Stats can be called at any time.
func (r *Receiver) Stats() ReceiverStats {
	return ReceiverStats{
		Packs: r.packs.Load(), Rounds: r.rounds.Load(), Refused: r.refused.Load(),
		Dropped: r.dropped.Load(), Acknowledged: r.acknowledged.Load(), Others: r.others.Load(),
	}
}

// Run receives until ctx ends and returns nil. It may be called once. It
// returns only after Handle has.
func (r *Receiver) Run(ctx context.Context) error {
	if r.cfg.Broker != nil {
		r.line = r.cfg.Broker
		return r.runInside(ctx)
	}
	client := mqtt.NewClient(r.cfg.Link.options(ctx, hubClient(r.cfg.Hub), r.up, r.cfg.Log))
	r.line = wire{client}
	client.Connect()
	defer client.Disconnect(disconnectMilli)
	var wg sync.WaitGroup
	wg.Go(func() { r.listen(ctx, client) })
	r.work(ctx)
	wg.Wait()
	return nil
}

// work delivers and acknowledges until ctx ends.
func (r *Receiver) work(ctx context.Context) {
	var wg sync.WaitGroup
	wg.Go(func() { r.deliver(ctx) })
	wg.Go(func() { r.acknowledge(ctx) })
	wg.Wait()
}

// listen subscribes after every connection, and again where that failed.
func (r *Receiver) listen(ctx context.Context, client mqtt.Client) {
	tick := time.NewTicker(relisten)
	defer tick.Stop()
	deaf := false
	for {
		select {
		case <-ctx.Done():
			return
		case <-r.up:
		case <-tick.C:
			if !deaf || !client.IsConnectionOpen() {
				continue
			}
		}
		err := r.subscribe(ctx, client)
		deaf = err != nil
		if err != nil && ctx.Err() == nil {
			r.cfg.Log.Error("receiver does not hear the nodes", "reason", err)
		}
	}
}

// subscribe asks for the rooms that are heard. What the session was subscribed to
// before its hub had rooms of its own is taken back.
func (r *Receiver) subscribe(ctx context.Context, client mqtt.Client) error {
	every := filtersOf("+")
	if len(r.cfg.Rooms) == 0 {
		return subscribe(ctx, client, r.receive, every...)
	}
	client.Unsubscribe(every...)
	for some := range slices.Chunk(r.cfg.Rooms, roomsAtOnce) {
		var filters []string
		for _, room := range some {
			filters = append(filters, filtersOf(room)...)
		}
		if err := subscribe(ctx, client, r.receive, filters...); err != nil {
			return err
		}
	}
	return nil
}

func filtersOf(room string) []string {
	return []string{topicRoot + room + "/+/" + string(Readings), topicRoot + room + "/+/" + string(State)}
}

// hears reports whether a room is one to be taken.
func (r *Receiver) hears(room string) bool {
	return (len(r.cfg.Rooms) == 0 || slices.Contains(r.cfg.Rooms, room)) && (r.cfg.Owns == nil || r.cfg.Owns(room))
}

// receive is the client's handler and must not wait.
func (r *Receiver) receive(_ mqtt.Client, m mqtt.Message) {
	select {
	case r.messages <- message{m.Topic(), m.Payload(), m.Retained(), r.cfg.Now()}:
	default:
		r.dropped.Add(1)
	}
}

func (r *Receiver) deliver(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case m := <-r.messages:
			if err := r.take(m); err != nil {
				r.refuse(m, err)
			}
		}
	}
}

// refuse logs at most once in refusalQuiet: a node repeats what is not
// acknowledged, and a hostile one can be quick.
func (r *Receiver) refuse(m message, reason error) {
	n := r.refused.Add(1)
	if now := time.Now(); r.told.IsZero() || now.Sub(r.told) >= refusalQuiet {
		r.told = now
		r.cfg.Log.Warn("publication refused", "topic", m.topic, "reason", reason, "refused_so_far", n)
	}
}

func (r *Receiver) take(m message) error {
	topic, err := ParseTopic(m.topic)
	if err != nil {
		return err
	}
	if !r.hears(topic.Room) {
		r.others.Add(1)
		return nil
	}
	if topic.Kind == State {
		return r.takeState(topic, m)
	}
	rounds, err := DecodePack(topic.Room, topic.Node, m.payload, m.received)
	if err != nil {
		if refusal, known := identify(topic.Room, topic.Node, m.payload); known {
			r.sendRefusal(topic, refusal, err.Error())
		}
		return err
	}
	r.packs.Add(1)
	r.rounds.Add(int64(len(rounds)))
	r.cfg.Handle(Delivery{Room: topic.Room, Node: topic.Node, Rounds: rounds, Stored: r.stored(topic, rounds), Refused: func(why string) {
		for _, round := range rounds {
			r.sendRefusal(topic, Refusal{Boot: round.Boot, Seq: round.Seq, ClockSet: round.ClockSet}, why)
		}
	}})
	return nil
}

func (r *Receiver) takeState(topic Topic, m message) error {
	if len(m.payload) == 0 { // how a retained message is taken back
		return nil
	}
	s, err := DecodeState(m.payload)
	if err != nil {
		return err
	}
	if r.cfg.HandleState != nil {
		r.cfg.HandleState(Report{Room: topic.Room, Node: topic.Node, NodeState: s, Kept: m.retained})
	}
	return nil
}

// sendRefusal tells a node to stop sending a round. A device without a boot sends
// nothing twice, and is told nothing.
func (r *Receiver) sendRefusal(topic Topic, refusal Refusal, why string) {
	if refusal.Boot == "" || !r.line.open() {
		return
	}
	refusal.Why, topic.Kind = why, Refused
	payload, err := refusal.Encode()
	if err != nil {
		r.cfg.Log.Error("refusal cannot be sent", "topic", topic.String(), "reason", err)
		return
	}
	if err := r.line.publish(topic.String(), payload); err != nil {
		r.cfg.Log.Error("refusal cannot be sent", "topic", topic.String(), "reason", err)
	}
}

// stored makes the function that acknowledges a delivery. A round without a
// boot came from a device that waits for no acknowledgement.
func (r *Receiver) stored(topic Topic, rounds []sensors.Round) func() {
	topic.Kind = Stored
	var once sync.Once
	return func() {
		once.Do(func() {
			for _, round := range rounds {
				if round.Boot == "" {
					continue
				}
				select {
				case r.acks <- ack{topic.String(), round.Boot, round.ClockSet, round.Seq}:
				default: // it comes again, and is acknowledged then
				}
			}
		})
	}
}
