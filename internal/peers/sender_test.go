package peers

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// publisher is one MQTT client that publishes at QoS 1 as fast as it may: as
// little of a client as there can be, so that what is measured is the chain.
type publisher struct {
	topic string
	conn  net.Conn
	out   *bufio.Writer
	acked atomic.Int64
	ended chan error
}

// dialPublisher connects one.
func dialPublisher(t *testing.T, at, id, user, topic string) *publisher {
	t.Helper()
	conn, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	hello := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	hello.ProtocolName, hello.ProtocolVersion, hello.CleanSession, hello.ClientIdentifier = "MQTT", 4, true, id
	hello.UsernameFlag, hello.PasswordFlag, hello.Username, hello.Password = true, true, user, []byte(password)
	if err := hello.Write(conn); err != nil {
		t.Fatal(err)
	}
	answer, err := packets.ReadPacket(conn)
	if ack, ok := answer.(*packets.ConnackPacket); err != nil || !ok || ack.ReturnCode != 0 {
		t.Fatalf("connect to %s as %s: %v, %v", at, user, answer, err)
	}
	p := &publisher{topic: topic, conn: conn, out: bufio.NewWriterSize(conn, 16<<10), ended: make(chan error, 1)}
	go p.listen()
	return p
}

// listen counts what the broker takes.
func (p *publisher) listen() {
	in := bufio.NewReader(p.conn)
	for {
		packet, err := packets.ReadPacket(in)
		if err != nil {
			p.ended <- err
			return
		}
		if _, ok := packet.(*packets.PubackPacket); ok {
			p.acked.Add(1)
		}
	}
}

func (p *publisher) publish(n int, payload []byte) error {
	m := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
	m.Qos, m.TopicName, m.Payload, m.MessageID = 1, p.topic, payload, uint16(n%65535+1)
	return m.Write(p.out)
}

// longest is how long a run may take before it has failed.
const longest = 3 * time.Minute

// send has the publishers send the payloads, each its own, together no more than
// window ahead of what is durable, and returns how long it was until all were.
func (c chain) send(publishers []*publisher, payloads [][][]byte, window int) (time.Duration, error) {
	total := 0
	for _, p := range payloads {
		total += len(p)
	}
	began, before := time.Now(), c.durable()
	done := func() int { return c.durable() - before }
	var sent atomic.Int64
	var all sync.WaitGroup
	errs := make([]error, len(publishers))
	for i, p := range publishers {
		all.Go(func() { errs[i] = p.run(payloads[i], &sent, window, done, began.Add(longest)) })
	}
	all.Wait()
	if err := errors.Join(errs...); err != nil {
		return 0, err
	}
	for done() < total {
		if time.Since(began) > longest {
			return 0, fmt.Errorf("%d of %d are durable", done(), total)
		}
		time.Sleep(time.Millisecond)
	}
	return time.Since(began), nil
}

// run sends one publisher's payloads. It writes out what it has before it waits.
func (p *publisher) run(payloads [][]byte, sent *atomic.Int64, window int, done func() int, until time.Time) error {
	for n, payload := range payloads {
		for int(sent.Add(1))-done() > window {
			sent.Add(-1)
			if err := p.out.Flush(); err != nil {
				return err
			}
			if time.Now().After(until) {
				return fmt.Errorf("%d of %d were sent, %d are durable", n, len(payloads), done())
			}
			time.Sleep(500 * time.Microsecond)
		}
		if err := p.publish(n, payload); err != nil {
			return err
		}
	}
	return p.out.Flush()
}
