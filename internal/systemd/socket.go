package systemd

import (
	"fmt"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
)

// Socket is the service manager that started this process, by the variables it
// has put into the environment (sd_notify(3), sd_watchdog_enabled(3)). Where
// none has, nothing is told and nothing fails.
type Socket struct{}

// Notify sends a state.
func (Socket) Notify(state string) error {
	_, err := daemon.SdNotify(false, state)
	return err
}

// Patience reads what the unit asks for under WatchdogSec.
func (Socket) Patience() (time.Duration, error) {
	d, err := daemon.SdWatchdogEnabled(false)
	if err != nil {
		return 0, fmt.Errorf("read how long the service manager waits: %w", err)
	}
	return d, nil
}
