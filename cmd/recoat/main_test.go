package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"testing"
)

// asRecoat makes the test binary behave as recoat, so that a test can run it as
// a process of its own, and kill it.
const asRecoat = "RECOAT_TEST_RUNS_MAIN"

func TestMain(m *testing.M) {
	if os.Getenv(asRecoat) == "" {
		os.Exit(m.Run())
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
