package telemetry

import (
	"fmt"
	"os"
	"testing"

	"go.uber.org/goleak"
)

// Whatever Run started has ended when Run returns, or soon after: the client
// library takes a moment to say goodbye, on a busy machine a longer one.
func TestMain(m *testing.M) {
	if path := os.Getenv(childSpool); path != "" {
		if err := spoolBounded(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	code := m.Run()
	if code == 0 {
		if err := leaks(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

func leaks() (err error) {
	for range 10 { // each looks for about half a second
		if err = goleak.Find(); err == nil {
			return nil
		}
	}
	return err
}
