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
	client := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(l.URL).SetUsername(l.User).SetPassword(l.Password).
		SetTLSConfig(l.TLS).SetClientID(who).SetCleanSession(true).SetProtocolVersion(4).
		SetAutoReconnect(false).SetConnectTimeout(patience))
	token := client.Connect()
	defer client.Disconnect(disconnectMilli)
	select {
	case <-ctx.Done():
		return fmt.Errorf("reach the broker: %w", ctx.Err())
	case <-time.After(patience):
		return fmt.Errorf("reach the broker: no answer within %s", patience)
	case <-token.Done():
	}
	if err := token.Error(); err != nil {
		return fmt.Errorf("reach the broker: %w", err)
	}
	return nil
}
