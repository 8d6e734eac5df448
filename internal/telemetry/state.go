package telemetry

import (
	"encoding/json"
	"fmt"
	"time"
)

// NodeState is what a node's retained state topic says.
type NodeState struct {
	Online bool
	Boot   string
	// At is when the node said so, by its own clock. In the will, which the
	// broker publishes for a node that went silent, it is when the connection
	// began.
	At time.Time
}

type stateJSON struct {
	State string `json:"state"`
	Boot  string `json:"boot"`
	At    string `json:"at"`
}

const stateTime = "2006-01-02T15:04:05.000Z07:00"

// Encode writes the state as it goes over the wire.
func (s NodeState) Encode() []byte {
	wire := stateJSON{State: "offline", Boot: s.Boot, At: s.At.UTC().Format(stateTime)}
	if s.Online {
		wire.State = "online"
	}
	payload, _ := json.Marshal(wire) // three strings: it cannot fail
	return payload
}

// DecodeState is the inverse of Encode.
func DecodeState(payload []byte) (NodeState, error) {
	var wire stateJSON
	if err := decodeNote(payload, &wire); err != nil {
		return NodeState{}, fmt.Errorf("state: %w", err)
	}
	if wire.State != "online" && wire.State != "offline" {
		return NodeState{}, fmt.Errorf("state %q: want online or offline", wire.State)
	}
	if !validBoot(wire.Boot) {
		return NodeState{}, fmt.Errorf("state: the boot is named %q: want 1 to %d letters, digits or '-'", wire.Boot, maxBoot)
	}
	at, err := time.Parse(time.RFC3339, wire.At)
	if err != nil {
		return NodeState{}, fmt.Errorf("state: %w", err)
	}
	return NodeState{Online: wire.State == "online", Boot: wire.Boot, At: at.UTC()}, nil
}
