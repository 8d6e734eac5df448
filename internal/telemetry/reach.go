package telemetry

import (
	"context"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// Reach connects to a broker once, as who tries it, and leaves again. It takes
// nobody's session over and leaves none behind.
func Reach(ctx context.Context, l Link, who string, patience time.Duration) error {
	if err := l.check(); err != nil {
		return err
	}
	client, err := visit(ctx, l, who, patience)
	if err != nil {
		return err
	}
	client.Disconnect(disconnectMilli)
	return nil
}

// visit connects once, without a session.
func visit(ctx context.Context, l Link, who string, patience time.Duration) (mqtt.Client, error) {
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(l.URL).SetUsername(l.User).SetPassword(l.Password).
		SetTLSConfig(l.TLS).SetClientID(who).SetCleanSession(true).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectTimeout(patience))
	token := client.Connect()
	var err error
	select {
	case <-ctx.Done():
		err = ctx.Err()
	case <-time.After(patience):
		err = fmt.Errorf("no answer within %s", patience)
	case <-token.Done():
		err = token.Error()
	}
	if err != nil {
		client.Disconnect(disconnectMilli)
		return nil, fmt.Errorf("reach the broker: %w", err)
	}
	return client, nil
}
