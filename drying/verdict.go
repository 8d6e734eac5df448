package drying

import "fmt"

// State is whether a room is fit to coat in.
type State uint8

// The states. Unknown is never shown as fit: nothing good was measured.
const (
	Unknown State = iota
	Fit
	Caution
	Unfit
)

var stateNames = [...]string{"unknown", "fit", "caution", "unfit"}

// String returns the state's name.
func (s State) String() string {
	if int(s) >= len(stateNames) {
		return fmt.Sprintf("state %d", uint8(s))
	}
	return stateNames[s]
}

// MarshalText gives the state's name.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is the inverse of MarshalText.
func (s *State) UnmarshalText(text []byte) error {
	for i, n := range stateNames {
		if n == string(text) {
			*s = State(i)
			return nil
		}
	}
	return fmt.Errorf("no state is called %q", text)
}

// Verdict is whether conditions allow coating, always with the reasons behind
// it: for fit too, the numbers that made it so.
type Verdict struct {
	State   State    `json:"state"`
	Reasons []Reason `json:"reasons"`
}
