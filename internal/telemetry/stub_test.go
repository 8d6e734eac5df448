package telemetry

import (
	"net"
	"sync/atomic"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// cuttingBroker lets anybody in and cuts the connection after a few rounds.
type cuttingBroker struct {
	after       int   // rounds
	puback      bool  // acknowledge them
	refuse      int64 // this many subscriptions, the first ones
	cuts, heard atomic.Int64
}

func (b *cuttingBroker) serve(l net.Listener) {
	for {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		b.talk(conn)
		_ = conn.Close()
	}
}

func (b *cuttingBroker) talk(conn net.Conn) {
	for rounds := 0; rounds < b.after; {
		packet, err := packets.ReadPacket(conn)
		if err != nil {
			return
		}
		switch p := packet.(type) {
		case *packets.ConnectPacket:
			_ = packets.NewControlPacket(packets.Connack).Write(conn)
		case *packets.SubscribePacket:
			ack := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
			ack.MessageID, ack.ReturnCodes = p.MessageID, []byte{1}
			if b.heard.Add(1) <= b.refuse {
				ack.ReturnCodes = []byte{0x80} // failure (MQTT 3.1.1, section 3.9.3)
			}
			_ = ack.Write(conn)
		case *packets.PublishPacket:
			if topic, err := ParseTopic(p.TopicName); err == nil && topic.Kind == Readings {
				rounds++
			}
			if b.puback {
				ack := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
				ack.MessageID = p.MessageID
				_ = ack.Write(conn)
			}
		}
	}
	b.cuts.Add(1)
}

func startStub(t *testing.T, b *cuttingBroker) (at string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	go b.serve(listener)
	return listener.Addr().String()
}

func TestARefusedSubscriptionIsAskedForAgain(t *testing.T) {
	t.Parallel()
	stub := &cuttingBroker{after: 1, refuse: 1}
	startCourier(t, startStub(t, stub), newSpool(t), 200*time.Millisecond)
	until(t, "the second attempt", func() bool { return stub.heard.Load() >= 2 })
}

// What a broker acknowledged and the hub did not is sent again on the next
// connection, and not only when its time is up.
func TestANewConnectionStartsAtTheOldestRound(t *testing.T) {
	t.Parallel()
	stub := &cuttingBroker{after: 3, puback: true}
	s := newSpool(t)
	appendRounds(t, s, roundOf(bootA, 1), roundOf(bootA, 2), roundOf(bootA, 3))
	startCourier(t, startStub(t, stub), s, time.Hour)
	until(t, "two cuts", func() bool { return stub.cuts.Load() >= 2 })
}

// The MQTT client reports a publication done when the connection is cut before
// the broker acknowledged it; nothing may be let go on that word.
func TestABrokerThatCutsWithoutAcknowledgingLosesNothing(t *testing.T) {
	t.Parallel()
	stub := &cuttingBroker{after: 3}
	front := startRelay(t)
	front.lead("tcp", startStub(t, stub))
	s := newSpool(t)
	for seq := range uint64(10) {
		appendRounds(t, s, roundOf(bootA, seq+1))
	}
	startCourier(t, front.addr(), s, 200*time.Millisecond)
	until(t, "two cuts", func() bool { return stub.cuts.Load() >= 2 })
	if n := len(pending(t, s)); n != 10 {
		t.Fatalf("%d of 10 rounds left", n)
	}
	real, _ := startBroker(t)
	front.lead("tcp", real)
	hub := startHub(t, front.addr(), true)
	until(t, "all ten at the hub", hub.has(10))
	until(t, "the spool is empty", empty(t, s))
}
