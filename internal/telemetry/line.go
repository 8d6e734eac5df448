package telemetry

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// line is how a Receiver answers nodes: over a connection, or inside the process
// that has the broker.
type line interface {
	open() bool
	publish(topic string, payload []byte) error
}

// wire is a line over a connection.
type wire struct{ client mqtt.Client }

func (w wire) open() bool { return w.client.IsConnectionOpen() }

// publish does not wait for the broker: what it does not get comes again.
func (w wire) publish(topic string, payload []byte) error {
	w.client.Publish(topic, 1, false, payload)
	return nil
}

func (b *Broker) open() bool { return true }

// publish hands a message to who listens, at QoS 1.
func (b *Broker) publish(topic string, payload []byte) error {
	return b.server.Publish(topic, payload, false, 1)
}

// hear calls heard with what is published, without a connection: what a client
// publishes has been heard before its next packet is read, so that heard, where it
// waits, slows that client alone. What the broker keeps is heard first.
func (b *Broker) hear(heard func(topic string, payload []byte, kept bool), filters ...string) error {
	var before atomic.Bool
	before.Store(true)
	defer before.Store(false)
	for i, f := range filters {
		err := b.server.Subscribe(f, i+1, func(_ *mochi.Client, _ packets.Subscription, p packets.Packet) {
			heard(p.TopicName, p.Payload, p.FixedHeader.Retain && before.Load())
		})
		if err != nil {
			return fmt.Errorf("subscribe to %q: %w", f, err)
		}
	}
	return nil
}

func (b *Broker) unhear(filters ...string) error {
	for i, f := range filters {
		if err := b.server.Unsubscribe(f, i+1); err != nil {
			return err
		}
	}
	return nil
}

// roomWait is how long a node waits for room in the queue of a Receiver in the
// broker's own process.
const roomWait = time.Second

// runInside receives from the broker in this process.
func (r *Receiver) runInside(ctx context.Context) error {
	filters := filtersOf("+")
	heard := func(topic string, payload []byte, kept bool) {
		r.queue(ctx, message{topic, payload, kept, r.cfg.Now()})
	}
	if err := r.cfg.Broker.hear(heard, filters...); err != nil {
		return fmt.Errorf("receiver: %w", err)
	}
	r.work(ctx)
	return r.cfg.Broker.unhear(filters...)
}

// queue waits a while for room.
func (r *Receiver) queue(ctx context.Context, m message) {
	select {
	case r.messages <- m:
		return
	default:
	}
	timer := time.NewTimer(roomWait)
	defer timer.Stop()
	select {
	case r.messages <- m:
	case <-timer.C:
		r.dropped.Add(1)
	case <-ctx.Done():
	}
}
