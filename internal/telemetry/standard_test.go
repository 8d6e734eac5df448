package telemetry

import (
	"errors"
	"io"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// The behaviours below are those of the ten tests of the public conformance
// suite for clients of MQTT 3.1.1, and some more, each after a numbered clause
// of the OASIS standard (mqtt-v3.1.1-os), against the broker with its real
// access rules. The suite itself was not to be had.

// speaker is a client at the level of packets.
type speaker struct {
	*testing.T
	net.Conn
	connack *packets.ConnackPacket
}

// wait is how long an answer may take, and quiet how long nothing has to come.
const (
	wait  = 5 * time.Second
	quiet = 150 * time.Millisecond
)

// standardBroker has a user who may do everything below t/, and nothing else
// but subscribe to all that is not denied.
func standardBroker(t *testing.T) string {
	t.Helper()
	b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Log: logged(t), Users: []User{
		{Name: "tester", Password: "maple", Publish: []string{"t/#", "$t/#"}, Subscribe: []string{"t/#", "+/a", "$t/#"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	start(t, b.Run)
	return b.Addr().String()
}

func connect(t *testing.T, at, id string, change func(*packets.ConnectPacket)) *speaker {
	t.Helper()
	conn, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	s := &speaker{T: t, Conn: conn}
	c := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	c.ProtocolName, c.ProtocolVersion, c.CleanSession, c.ClientIdentifier, c.Keepalive = "MQTT", 4, true, id, 60
	c.UsernameFlag, c.Username, c.PasswordFlag, c.Password = true, "tester", true, []byte("maple")
	if change != nil {
		change(c)
	}
	s.send(c)
	if p, err := s.next(wait); err == nil {
		s.connack, _ = p.(*packets.ConnackPacket)
	}
	if s.connack == nil {
		t.Fatal("no answer to CONNECT")
	}
	return s
}

func kept(c *packets.ConnectPacket) { c.CleanSession = false }

func (s *speaker) send(p packets.ControlPacket) {
	s.Helper()
	if err := p.Write(s.Conn); err != nil {
		s.Fatal(err)
	}
}

func (s *speaker) next(within time.Duration) (packets.ControlPacket, error) {
	if err := s.SetReadDeadline(time.Now().Add(within)); err != nil {
		return nil, err
	}
	return packets.ReadPacket(s.Conn)
}

// subscribe returns what the broker grants.
func (s *speaker) subscribe(filter string, qos byte) byte {
	s.Helper()
	p := packets.NewControlPacket(packets.Subscribe).(*packets.SubscribePacket)
	p.MessageID, p.Topics, p.Qoss = 1, []string{filter}, []byte{qos}
	s.send(p)
	for {
		got, err := s.next(wait)
		if err != nil {
			s.Fatal(err)
		}
		if ack, ok := got.(*packets.SubackPacket); ok {
			return ack.ReturnCodes[0]
		}
	}
}

func (s *speaker) publish(topic, payload string, qos byte, retain bool) {
	s.Helper()
	p := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
	p.TopicName, p.Payload, p.Qos, p.Retain, p.MessageID = topic, []byte(payload), qos, retain, 7
	s.send(p)
	switch qos {
	case 1:
		s.expect(packets.Puback)
	case 2:
		s.expect(packets.Pubrec)
		rel := packets.NewControlPacket(packets.Pubrel).(*packets.PubrelPacket)
		rel.MessageID = 7
		s.send(rel)
		s.expect(packets.Pubcomp)
	}
}

func (s *speaker) expect(kind byte) {
	s.Helper()
	p, err := s.next(wait)
	if err != nil {
		s.Fatalf("waiting for %s: %v", packets.PacketNames[kind], err)
	}
	if want := packets.PacketNames[kind]; !strings.HasPrefix(p.String(), want) {
		s.Fatalf("waiting for %s: %s", want, p)
	}
}

// hear returns what is published to the client until nothing more comes, and
// acknowledges it if told to.
func (s *speaker) hear(acknowledge bool) (all []*packets.PublishPacket) {
	s.Helper()
	for within := wait; ; within = quiet {
		p, err := s.next(within)
		if err != nil {
			return all
		}
		switch p := p.(type) {
		case *packets.PublishPacket:
			all = append(all, p)
			if !acknowledge {
				continue
			}
			switch p.Qos {
			case 1:
				ack := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
				ack.MessageID = p.MessageID
				s.send(ack)
			case 2:
				rec := packets.NewControlPacket(packets.Pubrec).(*packets.PubrecPacket)
				rec.MessageID = p.MessageID
				s.send(rec)
			}
		case *packets.PubrelPacket:
			comp := packets.NewControlPacket(packets.Pubcomp).(*packets.PubcompPacket)
			comp.MessageID = p.MessageID
			s.send(comp)
		}
	}
}

// silent reports that nothing comes.
func (s *speaker) silent() bool {
	_, err := s.next(2 * quiet)
	var late net.Error
	return errors.As(err, &late) && late.Timeout()
}

// closed reports that the broker ends the connection.
func (s *speaker) closed(within time.Duration) bool {
	_, err := s.next(within)
	if err == nil { // a word of goodbye, which version 3 does not forbid the broker to send
		_, err = s.next(within)
	}
	var late net.Error
	return err != nil && (errors.Is(err, io.EOF) || !errors.As(err, &late) || !late.Timeout())
}

func texts(all []*packets.PublishPacket) (texts []string) {
	for _, p := range all {
		texts = append(texts, string(p.Payload))
	}
	return texts
}

// Basic: each quality of service delivers, once for 1 and 2 where all goes well
// [MQTT-4.3.1-1], [MQTT-4.3.2-1], [MQTT-4.3.3-1], in order [MQTT-4.6.0-6].
func TestStandardDelivery(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s, p := connect(t, at, "sub", nil), connect(t, at, "pub", nil)
	if got := s.subscribe("t/a", 2); got != 2 {
		t.Fatalf("granted %d", got)
	}
	for qos := range byte(3) {
		p.publish("t/a", string('0'+rune(qos)), qos, false)
	}
	if got := texts(s.hear(true)); !slices.Equal(got, []string{"0", "1", "2"}) {
		t.Errorf("heard %v", got)
	}
}

// Retained messages come to new subscriptions, marked [MQTT-3.3.1-6],
// [MQTT-3.3.1-8], and an empty one takes them back [MQTT-3.3.1-10]; to
// subscriptions that stand they come unmarked [MQTT-3.3.1-9].
func TestStandardRetained(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	p := connect(t, at, "pub", nil)
	standing := connect(t, at, "standing", nil)
	standing.subscribe("t/#", 1)
	p.publish("t/a", "kept", 1, true)
	if got := standing.hear(true); len(got) != 1 || got[0].Retain {
		t.Errorf("a standing subscription heard %v", got)
	}
	s := connect(t, at, "late", nil)
	s.subscribe("t/+", 1)
	if got := s.hear(true); len(got) != 1 || !got[0].Retain || string(got[0].Payload) != "kept" {
		t.Errorf("a new one heard %v", got)
	}
	p.publish("t/a", "", 1, true)
	later := connect(t, at, "later", nil)
	later.subscribe("t/+", 1)
	if !later.silent() {
		t.Error("what was taken back is still there")
	}
}

// A client without an identifier is given one if it asks for a clean session
// [MQTT-3.1.3-6], else refused with 2 and cut off [MQTT-3.1.3-8].
func TestStandardNoIdentifier(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	if c := connect(t, at, "", nil); c.connack.ReturnCode != 0 {
		t.Errorf("clean: %d", c.connack.ReturnCode)
	}
	c := connect(t, at, "", kept)
	if c.connack.ReturnCode != packets.ErrRefusedIDRejected || !c.closed(wait) {
		t.Errorf("not clean: %d", c.connack.ReturnCode)
	}
}

// What is published at 1 and 2 while a client with a session is away waits for
// it [MQTT-3.1.2-5]; that there is a session is said [MQTT-3.2.2-2].
func TestStandardOfflineQueue(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s := connect(t, at, "sub", kept)
	if s.connack.SessionPresent {
		t.Error("a session before there was one")
	}
	s.subscribe("t/+", 2)
	s.send(packets.NewControlPacket(packets.Disconnect))
	p := connect(t, at, "pub", nil)
	p.publish("t/a", "1", 1, false)
	p.publish("t/b", "2", 2, false)
	again := connect(t, at, "sub", kept)
	got := texts(again.hear(true))
	slices.Sort(got)
	if !again.connack.SessionPresent || !slices.Equal(got, []string{"1", "2"}) {
		t.Errorf("session %v, heard %v", again.connack.SessionPresent, got)
	}
	again.send(packets.NewControlPacket(packets.Disconnect))
	if fresh := connect(t, at, "sub", nil); fresh.connack.SessionPresent {
		t.Error("a clean session is said to be an old one [MQTT-3.2.2-3]")
	}
}

// Filters that overlap deliver once at the highest quality, or once for each
// [MQTT-3.3.5-1].
func TestStandardOverlap(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s := connect(t, at, "sub", nil)
	s.subscribe("t/#", 2)
	s.subscribe("t/+", 1)
	connect(t, at, "pub", nil).publish("t/a", "both", 2, false)
	got := s.hear(true)
	if len(got) == 0 || len(got) > 2 || len(got) == 1 && got[0].Qos != 2 || len(got) == 2 && got[0].Qos+got[1].Qos != 3 {
		t.Errorf("heard %v", got)
	}
}

// A client that says nothing for one and a half times what it promised is cut
// off [MQTT-3.1.2-24], and its will is published [MQTT-3.1.2-8].
func TestStandardKeepAliveAndWill(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s := connect(t, at, "sub", nil)
	s.subscribe("t/will", 1)
	mute := connect(t, at, "mute", func(c *packets.ConnectPacket) {
		c.Keepalive, c.WillFlag, c.WillTopic, c.WillMessage, c.WillQos = 1, true, "t/will", []byte("gone"), 1
	})
	began := time.Now()
	if !mute.closed(10*time.Second) || time.Since(began) < time.Second {
		t.Errorf("cut off after %v", time.Since(began))
	}
	if got := texts(s.hear(true)); !slices.Equal(got, []string{"gone"}) {
		t.Errorf("the will: %v", got)
	}
	polite := connect(t, at, "polite", func(c *packets.ConnectPacket) {
		c.WillFlag, c.WillTopic, c.WillMessage = true, "t/will", []byte("gone")
	})
	polite.send(packets.NewControlPacket(packets.Disconnect))
	if !s.silent() {
		t.Error("the will of a client that said goodbye was published [MQTT-3.14.4-3]")
	}
}

// What was delivered and not acknowledged comes again after a reconnection, as
// a duplicate with the same identifier [MQTT-4.4.0-1], [MQTT-3.3.1-1].
func TestStandardRedelivery(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s := connect(t, at, "sub", kept)
	s.subscribe("t/a", 1)
	connect(t, at, "pub", nil).publish("t/a", "mind", 1, false)
	first := s.hear(false)
	_ = s.Close()
	again := connect(t, at, "sub", kept).hear(true)
	if len(first) != 1 || len(again) != 1 || !again[0].Dup || again[0].MessageID != first[0].MessageID || string(again[0].Payload) != "mind" {
		t.Errorf("first %v, again %v", first, again)
	}
}

// A subscription that is not allowed is refused with 0x80 [MQTT-3.9.3-2], and
// the connection stands.
func TestStandardSubscriptionRefused(t *testing.T) {
	t.Parallel()
	s := connect(t, standardBroker(t), "sub", nil)
	if got := s.subscribe("other/nosubscribe", 1); got != 0x80 {
		t.Errorf("granted %#x", got)
	}
	if got := s.subscribe("t/a", 1); got != 1 {
		t.Errorf("and then %#x", got)
	}
}

// A filter that begins with a wildcard does not match topics that begin with $
// [MQTT-4.7.2-1].
func TestStandardDollarTopics(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s, p := connect(t, at, "sub", nil), connect(t, at, "pub", nil)
	if got := s.subscribe("+/a", 1); got == 0x80 {
		t.Fatal("refused")
	}
	p.publish("$t/a", "no", 0, false)
	p.publish("t/a", "yes", 1, false)
	if got := texts(s.hear(true)); !slices.Equal(got, []string{"yes"}) {
		t.Errorf("heard %v", got)
	}
}

// After UNSUBACK nothing new is delivered [MQTT-3.10.4-2], [MQTT-3.10.4-5]; other
// subscriptions stand.
func TestStandardUnsubscribe(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	s, p := connect(t, at, "sub", nil), connect(t, at, "pub", nil)
	s.subscribe("t/a", 1)
	s.subscribe("t/b", 1)
	u := packets.NewControlPacket(packets.Unsubscribe).(*packets.UnsubscribePacket)
	u.MessageID, u.Topics = 9, []string{"t/a"}
	s.send(u)
	s.expect(packets.Unsuback)
	p.publish("t/a", "no", 1, false)
	p.publish("t/b", "yes", 1, false)
	if got := texts(s.hear(true)); !slices.Equal(got, []string{"yes"}) {
		t.Errorf("heard %v", got)
	}
}

// Of two connections of one identifier the older is ended [MQTT-3.1.4-2]; a
// second CONNECT on one is a violation, and ends it [MQTT-3.1.0-2]; a ping is
// answered [MQTT-3.12.4-1].
func TestStandardConnections(t *testing.T) {
	t.Parallel()
	at := standardBroker(t)
	older := connect(t, at, "one", nil)
	older.send(packets.NewControlPacket(packets.Pingreq))
	older.expect(packets.Pingresp)
	newer := connect(t, at, "one", nil)
	if !older.closed(wait) {
		t.Error("the older connection stands")
	}
	c := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	c.ProtocolName, c.ProtocolVersion, c.ClientIdentifier, c.CleanSession = "MQTT", 4, "one", true
	c.UsernameFlag, c.Username, c.PasswordFlag, c.Password = true, "tester", true, []byte("maple")
	newer.send(c)
	if !newer.closed(wait) {
		t.Error("a second CONNECT is taken")
	}
}
