// Package mqtt publishes messages on a topic, for whatever listens there.
package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"recoat/internal/alert"
)

const (
	atLeastOnce    = 1
	connectTimeout = 10 * time.Second
	longestTopic   = 200 // bytes
)

// Config is where to publish.
type Config struct {
	Broker   string // tcp://host:port, or ssl:// for TLS
	User     string
	Password string
	Topic    string
	TLS      *tls.Config // nil: the system's certificates
}

// Channel publishes each message as JSON, the same that is posted by HTTP, over
// a connection of its own: messages are rare. A message is sent once the broker
// has acknowledged it; whether anybody listens is not known.
type Channel struct{ cfg Config }

// New checks the broker's address and the topic.
func New(cfg Config) (*Channel, error) {
	u, err := url.Parse(cfg.Broker)
	if err != nil || u.Host == "" || u.User != nil {
		return nil, errors.New("mqtt: the broker is to be tcp://host:port or ssl://host:port, without a password in it")
	}
	switch u.Scheme {
	case "tcp", "mqtt", "ssl", "tls", "mqtts":
	default:
		return nil, fmt.Errorf("mqtt: the broker's address begins with %q: want tcp:// or ssl://", u.Scheme)
	}
	if cfg.Topic == "" || len(cfg.Topic) > longestTopic || strings.ContainsAny(cfg.Topic, "+#\x00") || cfg.Topic[0] == '$' {
		return nil, fmt.Errorf("mqtt: %.40q is no topic to publish on: want 1 to %d bytes without + and #", cfg.Topic, longestTopic)
	}
	return &Channel{cfg: cfg}, nil
}

// Name is "mqtt".
func (*Channel) Name() string { return "mqtt" }

// Send publishes m once.
func (c *Channel) Send(ctx context.Context, m alert.Message) error {
	body, err := m.Encode()
	if err != nil {
		return fmt.Errorf("mqtt: %w", err)
	}
	client := paho.NewClient(paho.NewClientOptions().
		AddBroker(c.cfg.Broker).SetUsername(c.cfg.User).SetPassword(c.cfg.Password).SetTLSConfig(c.cfg.TLS).
		SetClientID("recoat-alert-" + m.ID).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectRetry(false).SetConnectTimeout(connectTimeout))
	if err := c.await(ctx, "connect", client.Connect()); err != nil {
		client.Disconnect(0)
		return err
	}
	defer client.Disconnect(0)
	return c.await(ctx, "publish", client.Publish(c.cfg.Topic, atLeastOnce, false, body))
}

func (c *Channel) await(ctx context.Context, what string, token paho.Token) error {
	select {
	case <-token.Done():
	case <-ctx.Done():
		return alert.ErrOutcomeUnknown
	}
	if err := token.Error(); err != nil {
		return fmt.Errorf("mqtt: %s: %s", what, alert.Redact(err.Error(), c.cfg.User, c.cfg.Password))
	}
	return nil
}
