package telemetry

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"slices"
	"sync"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Link says how to reach a broker.
type Link struct {
	URL      string // tcp://host:port, or ssl://host:port for TLS
	User     string
	Password string
	TLS      *tls.Config // for ssl; nil trusts the system's authorities
	// ClientID must be the same at every start and used by nobody else. Empty
	// takes one made of the node's name, or the hub's.
	ClientID string
	// Retry is the wait between attempts to connect; 0 is 5 s.
	Retry time.Duration
}

const (
	defaultRetry    = 5 * time.Second
	longestRetry    = time.Minute
	keepAlive       = 20 * time.Second
	pingTimeout     = 10 * time.Second
	writeTimeout    = 10 * time.Second
	subscribeWait   = 10 * time.Second
	farewellWait    = 2 * time.Second
	disconnectMilli = 250
)

func (l Link) check() error {
	u, err := url.Parse(l.URL)
	if err != nil {
		return fmt.Errorf("the broker's address: %w", err)
	}
	if !slices.Contains([]string{"tcp", "mqtt", "ssl", "tls", "mqtts"}, u.Scheme) || u.Host == "" {
		return fmt.Errorf("the broker's address is %q: want tcp://host:port or ssl://host:port", u.Redacted())
	}
	return nil
}

// options are what a client of either side needs to outlive its broker. The
// session is kept, because the client drops what was published before its
// first connection otherwise; nothing is resumed by the library that the loop
// on top of it does not do itself.
func (l Link) options(ctx context.Context, clientID string, up chan struct{}, log *slog.Logger) *mqtt.ClientOptions {
	if l.ClientID != "" {
		clientID = l.ClientID
	}
	retry := l.Retry
	if retry == 0 {
		retry = defaultRetry
	}
	teller := &teller{log: log}
	longest := max(retry, min(longestRetry, 12*retry))
	spread := &spread{step: retry, longest: longest}
	return mqtt.NewClientOptions().
		AddBroker(l.URL).SetUsername(l.User).SetPassword(l.Password).SetTLSConfig(l.TLS).
		SetClientID(clientID).SetCleanSession(false).SetProtocolVersion(4).
		SetConnectRetry(true).SetConnectRetryInterval(retry).SetMaxReconnectInterval(longest).
		SetKeepAlive(keepAlive).SetPingTimeout(pingTimeout).SetWriteTimeout(writeTimeout).
		// In order, and safe because no handler here ever waits.
		SetOrderMatters(true).
		SetDefaultPublishHandler(func(mqtt.Client, mqtt.Message) {}).
		SetOnConnectHandler(func(mqtt.Client) { spread.over(); signal(up) }).
		SetConnectionAttemptHandler(func(_ *url.URL, secured *tls.Config) *tls.Config {
			spread.wait(ctx)
			return secured
		}).
		SetConnectionNotificationHandler(teller.notify)
}

// teller logs what becomes of the connection, each cause once until it
// changes.
type teller struct {
	log  *slog.Logger
	mu   sync.Mutex
	last string
}

func (t *teller) notify(_ mqtt.Client, n mqtt.ConnectionNotification) {
	switch n := n.(type) {
	case mqtt.ConnectionNotificationConnected:
		t.tell(slog.LevelInfo, "broker connected", nil)
	case mqtt.ConnectionNotificationFailed:
		t.tell(slog.LevelWarn, "broker cannot be reached", n.Reason)
	case mqtt.ConnectionNotificationLost:
		t.tell(slog.LevelWarn, "broker lost", n.Reason)
	}
}

func (t *teller) tell(level slog.Level, message string, reason error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if key := message + cause(reason); key != t.last {
		t.last = key
		t.log.Log(context.Background(), level, message, "reason", reason)
	}
}

// cause is an error without the port numbers that make each attempt's differ.
func cause(err error) string {
	var op *net.OpError
	switch {
	case err == nil:
		return ""
	case errors.As(err, &op):
		return op.Op + op.Err.Error()
	}
	return err.Error()
}

// subscribe asks for filters at QoS 1 and reports what the broker refuses.
func subscribe(ctx context.Context, client mqtt.Client, handler mqtt.MessageHandler, filters ...string) error {
	ctx, cancel := context.WithTimeout(ctx, subscribeWait)
	defer cancel()
	want := map[string]byte{}
	for _, f := range filters {
		want[f] = 1
	}
	token := client.SubscribeMultiple(want, handler)
	select {
	case <-token.Done():
	case <-ctx.Done():
		return fmt.Errorf("subscribe to %v: no answer from the broker: %w", filters, ctx.Err())
	}
	if err := token.Error(); err != nil {
		return fmt.Errorf("subscribe to %v: %w", filters, err)
	}
	if granted, ok := token.(*mqtt.SubscribeToken); ok {
		for filter, code := range granted.Result() {
			if code > 2 {
				return fmt.Errorf("subscribe to %q: the broker refuses it: check what this user may read", filter)
			}
		}
	}
	return nil
}
