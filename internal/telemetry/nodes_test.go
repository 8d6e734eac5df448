package telemetry

import (
	"context"
	"net"
	"path/filepath"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	people "recoat/internal/access"
	"recoat/internal/authority"
)

// outside is a broker with a listener for nodes elsewhere, and the book that it
// asks.
func outside(t *testing.T) (at string, book *people.Book, own *authority.Authority) {
	t.Helper()
	book, err := people.Open(t.Context(), people.Options{Path: filepath.Join(t.TempDir(), "access.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = book.Close() })
	own, err = authority.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	b, err := ListenBroker(t.Context(), BrokerConfig{
		Addr: "127.0.0.1:0", Users: testUsers(), Log: logged(t),
		Outside: "127.0.0.1:0", OutsideTLS: own.Server(func() []string { return []string{"127.0.0.1"} }),
		Nodes: Nodes{
			Admits: func(room, node string, password []byte) bool {
				return book.AdmitsNode(context.Background(), room, node, password)
			},
			Knows: func(room, node string) bool { return book.KnowsNode(context.Background(), room, node) },
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	start(t, b.Run)
	return b.OutsideAddr().String(), book, own
}

func nodeClient(t *testing.T, at string, own *authority.Authority, room, node, password string, lost func()) (mqtt.Client, error) {
	t.Helper()
	return client(t, at, node, room+"/"+node, password, func(o *mqtt.ClientOptions) {
		o.Servers = nil
		o.AddBroker("ssl://" + at).SetTLSConfig(own.Trust())
		o.SetConnectionLostHandler(func(mqtt.Client, error) { lost() })
	})
}

// A node's password lets it write its own topics over TLS, and nothing else;
// once it is shut out its next message is its last.
func TestANodeElsewhereWritesItsOwnTopicsAlone(t *testing.T) {
	t.Parallel()
	at, book, own := outside(t)
	password, err := book.AddNode(t.Context(), "loft", "shelf")
	if err != nil {
		t.Fatal(err)
	}
	topic := func(room, node string, k Kind) string { return Topic{Room: room, Node: node, Kind: k}.String() }
	for name, c := range map[string]struct {
		topic string
		want  bool
	}{
		"its readings":              {topic("loft", "shelf", Readings), true},
		"its state":                 {topic("loft", "shelf", State), true},
		"another node's readings":   {topic("loft", "bench", Readings), false},
		"another room's readings":   {topic("back-room", "shelf", Readings), false},
		"what the hub has stored":   {topic("loft", "shelf", Stored), false},
		"what lies below its own":   {topic("loft", "shelf", Readings) + "/x", false},
		"something quite different": {"a/room1", false},
	} {
		lost := make(chan struct{}, 1)
		n, err := nodeClient(t, at, own, "loft", "shelf", password, func() { lost <- struct{}{} })
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		token := n.Publish(c.topic, 1, false, "x")
		taken := token.WaitTimeout(patience) && token.Error() == nil && n.IsConnectionOpen()
		if taken != c.want {
			t.Errorf("%s: taken %v", name, taken)
		}
		n.Disconnect(0)
	}
	n, err := nodeClient(t, at, own, "loft", "shelf", password, func() {})
	if err != nil {
		t.Fatal(err)
	}
	for filter, want := range map[string]bool{
		topic("loft", "shelf", Stored): true, topic("loft", "bench", Stored): false, topicRoot + "+/+/readings": false, "#": false,
	} {
		if err := subscribe(t.Context(), n, func(mqtt.Client, mqtt.Message) {}, filter); (err == nil) != want {
			t.Errorf("subscribe to %s: %v", filter, err)
		}
	}
	if err := book.RemoveNode(t.Context(), "loft", "shelf"); err != nil {
		t.Fatal(err)
	}
	token := n.Publish(topic("loft", "shelf", Readings), 1, false, "x")
	if token.WaitTimeout(patience) && token.Error() == nil && n.IsConnectionOpen() {
		t.Error("a node that was shut out is heard")
	}
}

func TestWhoIsNoNodeStaysOutside(t *testing.T) {
	t.Parallel()
	at, book, own := outside(t)
	password, err := book.AddNode(t.Context(), "loft", "shelf")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ room, node, password string }{
		"a wrong password":        {"loft", "shelf", password + "x"},
		"no password":             {"loft", "shelf", ""},
		"another node's password": {"loft", "bench", password},
		"no node":                 {"", "", password},
	} {
		if n, err := nodeClient(t, at, own, c.room, c.node, c.password, func() {}); err == nil {
			t.Errorf("%s is let in", name)
			n.Disconnect(0)
		}
	}
	stranger, err := authority.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := nodeClient(t, at, stranger, "loft", "shelf", password, func() {}); err == nil {
		t.Error("a node that trusts another authority gives its password away")
	}
	plain, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	defer plain.Close()
	// An MQTT 3.1.1 CONNECT without TLS is answered by no CONNACK.
	_, _ = plain.Write([]byte{0x10, 0x0d, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 60, 0, 1, 'x'})
	_ = plain.SetReadDeadline(time.Now().Add(patience))
	answer := make([]byte, 1)
	if n, _ := plain.Read(answer); n == 1 && answer[0] == 0x20 {
		t.Error("the broker speaks without TLS")
	}
}

func TestOutsideNeedsTLS(t *testing.T) {
	t.Parallel()
	if b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Outside: "127.0.0.1:0", Log: logged(t)}); err == nil {
		t.Error("nodes elsewhere are heard without TLS")
		_ = b.Close()
	}
	if b, err := ListenBroker(t.Context(), BrokerConfig{Addr: "127.0.0.1:0", Users: []User{{Name: "loft/shelf", Password: "x"}}, Log: logged(t)}); err == nil {
		t.Error("a user may be named like a node")
		_ = b.Close()
	}
}
