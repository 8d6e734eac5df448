package telemetry

import (
	"testing"

	"go.uber.org/goleak"
)

// Whatever Run started has ended when Run returns, or soon after.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
