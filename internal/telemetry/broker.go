package telemetry

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// BrokerConfig is what a Broker needs.
type BrokerConfig struct {
	Addr  string // host:port; port 0 takes a free one
	Users []User
	TLS   *tls.Config // needed for any address but a loopback one
	// Outside is a second host:port, for Nodes elsewhere, always with TLS; empty:
	// none. Addr may then be a loopback one without.
	Outside    string
	OutsideTLS *tls.Config
	Nodes      Nodes
	Log        *slog.Logger
}

// Bounds of the broker, so that no client takes the small machine it runs on.
const (
	maxClients       = 1100 // a thousand rooms, and some who look on
	maxInflight      = 512  // per client that is away
	maxWritesPending = 4096
	receiveMaximum   = 64
	sessionSeconds   = 24 * 3600
	sysTopicSeconds  = 60
	topicAliases     = 8 // per client of MQTT 5
)

// Broker is an MQTT broker inside this process. It keeps nothing on disk:
// spools and the hub's store do. After a restart nodes say anew that they are
// online and send what was not acknowledged.
type Broker struct {
	server    *mochi.Server
	listeners []net.Listener // the first is Addr's
}

// ListenBroker binds the address, so that Addr is known and clients may begin
// to connect; Run serves them. A Broker that will not be run is closed.
func ListenBroker(ctx context.Context, cfg BrokerConfig) (*Broker, error) {
	rights, err := newAccess(cfg.Users, cfg.Nodes)
	if err != nil {
		return nil, fmt.Errorf("broker: %w", err)
	}
	server := mochi.New(&mochi.Options{Capabilities: capabilities(), Logger: quieten(cfg.Log), SysTopicResendInterval: sysTopicSeconds, InlineClient: true})
	hook := &accessHook{access: rights, clients: server.Clients, log: cfg.Log}
	if err := server.AddHook(hook, nil); err != nil {
		return nil, fmt.Errorf("broker: %w", err)
	}
	b := &Broker{server: server}
	if err := b.bind(ctx, "net", cfg.Addr, cfg.TLS); err != nil {
		return nil, fmt.Errorf("broker: %w", err)
	}
	if cfg.Outside == "" {
		return b, nil
	}
	if cfg.OutsideTLS == nil {
		return nil, errors.Join(fmt.Errorf("broker: %s is for nodes elsewhere: give it TLS", cfg.Outside), b.Close())
	}
	if err := b.bind(ctx, "outside", cfg.Outside, cfg.OutsideTLS); err != nil {
		return nil, errors.Join(fmt.Errorf("broker: %w", err), b.Close())
	}
	return b, nil
}

func (b *Broker) bind(ctx context.Context, id, addr string, secured *tls.Config) error {
	listener, err := listen(ctx, addr, secured)
	if err != nil {
		return err
	}
	if err := b.server.AddListener(listeners.NewNet(id, listener)); err != nil {
		return errors.Join(err, listener.Close())
	}
	b.listeners = append(b.listeners, listener)
	return nil
}

func listen(ctx context.Context, addr string, secured *tls.Config) (net.Listener, error) {
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", addr)
	if err != nil {
		return nil, err
	}
	if secured != nil {
		return tls.NewListener(listener, secured), nil
	}
	if at, ok := listener.Addr().(*net.TCPAddr); !ok || !at.IP.IsLoopback() {
		return nil, errors.Join(fmt.Errorf("%s can be reached from outside: give it TLS, or listen on 127.0.0.1", addr), listener.Close())
	}
	return listener, nil
}

// capabilities sets what the library leaves open. Messages do not expire: its
// expiry goes by the wall clock, and one step of that forward would drop
// every retained and waiting message.
func capabilities() *mochi.Capabilities {
	c := mochi.NewDefaultServerCapabilities()
	c.MaximumClients = maxClients
	c.MaximumMessageExpiryInterval = 0
	c.MaximumClientWritesPending = maxWritesPending
	c.MaximumSessionExpiryInterval = sessionSeconds
	c.MaximumPacketSize = MaxPack
	c.ReceiveMaximum = receiveMaximum
	c.MaximumInflight = maxInflight
	c.TopicAliasMaximum = topicAliases
	c.SharedSubAvailable = 0
	return c
}

// Addr is where the broker listens.
func (b *Broker) Addr() net.Addr { return b.listeners[0].Addr() }

// OutsideAddr is where it listens for nodes elsewhere; nil where it does not.
func (b *Broker) OutsideAddr() net.Addr {
	if len(b.listeners) < 2 {
		return nil
	}
	return b.listeners[1].Addr()
}

// Run serves until ctx ends, then closes every connection and returns nil.
func (b *Broker) Run(ctx context.Context) error {
	if err := b.server.Serve(); err != nil {
		return errors.Join(fmt.Errorf("broker: %w", err), b.Close())
	}
	<-ctx.Done()
	return b.server.Close()
}

// Close frees the addresses of a Broker that was never run.
func (b *Broker) Close() error {
	var errs []error
	for _, l := range b.listeners {
		errs = append(errs, l.Close())
	}
	return errors.Join(errs...)
}

// accessHook asks access whenever the server wants to know.
type accessHook struct {
	mochi.HookBase
	access  *access
	clients *mochi.Clients
	log     *slog.Logger
}

func (h *accessHook) ID() string { return "recoat-access" }

func (h *accessHook) Provides(b byte) bool {
	return bytes.IndexByte([]byte{mochi.OnConnectAuthenticate, mochi.OnACLCheck, mochi.OnPacketRead, mochi.OnPacketEncode}, b) >= 0
}

// OnConnectAuthenticate also looks at what the server does not ask about: the
// topic of a will, which it would publish unchecked, and whose session a
// client identifier continues.
func (h *accessHook) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	name := string(pk.Connect.Username)
	reason := ""
	switch previous, known := h.clients.Get(pk.Connect.ClientIdentifier); {
	case !h.access.admits(name, pk.Connect.Password):
		reason = "unknown user or wrong password"
	case pk.Connect.WillFlag && !h.access.mayPublish(name, pk.Connect.WillTopic):
		reason = "the will is for a topic this user may not publish to"
	case known && string(previous.Properties.Username) != name:
		reason = "the client identifier is another user's"
	}
	if reason != "" {
		h.log.Warn("broker refused a client", "user", name, "remote", cl.Net.Remote, "reason", reason)
	}
	return reason == ""
}

// OnPacketRead puts the topic in the place of an alias (MQTT 5, section 3.3.2.3.4).
// The server does so only after it has asked whether the topic may be published to.
func (h *accessHook) OnPacketRead(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	alias := pk.Properties.TopicAlias
	if pk.FixedHeader.Type == packets.Publish && pk.Properties.TopicAliasFlag && alias > 0 && alias <= topicAliases {
		pk.TopicName = cl.State.TopicAliases.Inbound.Set(alias, pk.TopicName)
	}
	return pk, nil
}

// OnPacketEncode gives a client of version 3 that names itself nowhere, and
// wants a session, the answer of the standard (MQTT 3.1.1, [MQTT-3.1.3-8]); the
// server would send a code that version 3 does not have.
func (h *accessHook) OnPacketEncode(cl *mochi.Client, pk packets.Packet) packets.Packet {
	if pk.FixedHeader.Type == packets.Connack && cl.Properties.ProtocolVersion < 5 && pk.ReasonCode == packets.ErrUnspecifiedError.Code {
		pk.ReasonCode = packets.Err3ClientIdentifierNotValid.Code
	}
	return pk
}

// OnACLCheck is asked about topics to publish to, filters to subscribe to, and
// topics about to be delivered.
func (h *accessHook) OnACLCheck(cl *mochi.Client, topic string, write bool) bool {
	name := string(cl.Properties.Username)
	if write {
		return h.access.mayPublish(name, topic)
	}
	return h.access.maySubscribe(name, topic)
}

// quieten lets only the server's errors through: it warns of every client that goes
// away, and the hook tells of the refused ones.
func quieten(log *slog.Logger) *slog.Logger { return slog.New(errorsOnly{log.Handler()}) }

type errorsOnly struct{ slog.Handler }

func (h errorsOnly) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelError && h.Handler.Enabled(ctx, level)
}

func (h errorsOnly) WithAttrs(attrs []slog.Attr) slog.Handler {
	return errorsOnly{h.Handler.WithAttrs(attrs)}
}

func (h errorsOnly) WithGroup(name string) slog.Handler {
	return errorsOnly{h.Handler.WithGroup(name)}
}
