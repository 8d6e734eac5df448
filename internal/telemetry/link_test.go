package telemetry

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"syscall"
	"testing"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

func TestEachCauseOfALostBrokerIsToldOnce(t *testing.T) {
	var out bytes.Buffer
	teller := &teller{log: slog.New(slog.NewTextHandler(&out, nil))}
	refused := func(port int) mqtt.ConnectionNotification {
		op := &net.OpError{Op: "dial", Net: "tcp", Source: &net.TCPAddr{Port: port}, Err: syscall.ECONNREFUSED}
		return mqtt.ConnectionNotificationFailed{Reason: fmt.Errorf("network Error : %w", op)}
	}
	for _, n := range []mqtt.ConnectionNotification{
		refused(40001), refused(40002), refused(40003),
		mqtt.ConnectionNotificationFailed{Reason: errors.New("not Authorized")},
		mqtt.ConnectionNotificationConnected{}, mqtt.ConnectionNotificationLost{},
		mqtt.ConnectionNotificationConnecting{}, refused(40004),
	} {
		teller.notify(nil, n)
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	want := []string{"refused", "not Authorized", "connected", "lost", "refused"}
	if len(lines) != len(want) {
		t.Fatalf("%d lines, want %d:\n%s", len(lines), len(want), out.String())
	}
	for i, w := range want {
		if !strings.Contains(lines[i], w) {
			t.Errorf("line %d is %s, want %q in it", i+1, lines[i], w)
		}
	}
}
