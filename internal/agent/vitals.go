package agent

import (
	"context"
	"fmt"
)

// Sampled counts the rounds in which at least one bus of the room came back. A
// sensor that is broken does not stop it; that every bus hangs does, and is for
// the service manager to end.
func (a *Agent) Sampled() uint64 { return a.sampled.Load() }

// Spooled counts the rounds that were made durable.
func (a *Agent) Spooled() uint64 { return a.spooled.Load() }

// Delivered rises as long as delivery goes on, or cannot for want of a broker.
func (a *Agent) Delivered() uint64 { return a.courier.Beats() }

// Status says in one line what the agent does.
func (a *Agent) Status(ctx context.Context) string {
	health := a.Health()
	silent := 0
	for _, h := range health {
		if !h.OK {
			silent++
		}
	}
	text := fmt.Sprintf("reading %s", counted(len(health), "sensor"))
	if silent > 0 {
		text += fmt.Sprintf(", %d without a value", silent)
	}
	waiting, err := a.spool.Stats(ctx)
	switch {
	case err != nil:
		return text + "; the spool cannot be read"
	case waiting.Dropped > 0:
		text += fmt.Sprintf("; lost for want of room: %s", counted(int(waiting.Dropped), "round"))
	}
	if waiting.Aside > 0 {
		text += fmt.Sprintf("; refused by the hub: %s", counted(int(waiting.Aside), "round"))
	}
	return text + fmt.Sprintf("; waiting for the hub: %s", counted(int(waiting.Pending), "round"))
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
