package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"testing"
	"time"

	"recoat/internal/telemetry"
)

// A request whose body never comes does not hold its connection for ever.
func TestABodyThatNeverComesIsGivenUp(t *testing.T) {
	path, data := writeConfig(t, "http://127.0.0.1:9/nobody")
	cfg, err := loadConfig(path)
	if err != nil {
		t.Fatal(err)
	}
	p := &parts{}
	t.Cleanup(func() {
		if err := p.close(); err != nil {
			t.Error(err)
		}
	})
	h := &house{cfg: cfg, log: slog.New(slog.DiscardHandler), parts: p}
	if err := h.open(t.Context(), data); err != nil {
		t.Fatal(err)
	}
	if err := h.serve(telemetry.Link{URL: "tcp://127.0.0.1:9"}); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	running := make(chan error, 1)
	go func() { running <- h.hub.Run(ctx) }() // whom the pages ask
	defer func() { stop(); <-running }()
	server := h.server(ctx)
	if server.ReadTimeout <= 0 || server.ReadTimeout > time.Minute {
		t.Fatalf("a request may take %s", server.ReadTimeout)
	}
	server.ReadTimeout = 200 * time.Millisecond // the same, in a test's time
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(h.pages) }()
	defer func() { _ = server.Close(); <-ended }()

	conn, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", h.pages.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintf(conn, "POST /coats HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 100\r\n\r\npart=")
	if err := conn.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadAll(conn); err != nil {
		t.Errorf("after twenty seconds the connection is still there: %v", err)
	}
}
