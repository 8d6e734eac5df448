// Package alert decides what a finisher is told, and sees that it arrives.
package alert

import (
	"fmt"
	"time"
)

// State is where an episode stands.
type State uint8

// The states an episode goes through, in order. Files hold their numbers.
const (
	Pending      State = iota // true, but not yet for long enough
	Raised                    // told, or about to be
	Acknowledged              // a person has seen it
	Cleared                   // over
)

var stateNames = [...]string{"pending", "raised", "acknowledged", "cleared"}

// String returns the state's name.
func (s State) String() string {
	if int(s) >= len(stateNames) {
		return fmt.Sprintf("state %d", uint8(s))
	}
	return stateNames[s]
}

// Severity is how far an alert may intrude.
type Severity uint8

// The severities, mildest first. Only Critical passes quiet hours. Files hold
// their numbers.
const (
	Info Severity = iota
	Warning
	Critical
)

var severityNames = [...]string{"info", "warning", "critical"}

// String returns the severity's name.
func (s Severity) String() string {
	if int(s) >= len(severityNames) {
		return fmt.Sprintf("severity %d", uint8(s))
	}
	return severityNames[s]
}

// MarshalText gives the severity's name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Cause is why a message is sent.
type Cause uint8

// The causes. Untold, the zero value, sends nothing. Files hold their numbers.
const (
	Untold    Cause = iota
	First           // the episode was raised
	Repeat          // still so and not acknowledged, or worse than it was
	Ended           // the episode is over
	Escalated       // nobody acknowledged it: told to somebody else too
	Digest          // what was held back, told together
	Tested          // somebody tried the channel
)

var causeNames = [...]string{"untold", "first", "repeat", "cleared", "escalated", "digest", "test"}

// String returns the cause's name.
func (c Cause) String() string {
	if int(c) >= len(causeNames) {
		return fmt.Sprintf("cause %d", uint8(c))
	}
	return causeNames[c]
}

// MarshalText gives the cause's name.
func (c Cause) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// Key names what an episode is about: one rule, one room, one subject (a coat,
// a node), such as {"ready", "back-room", "c-0007/dry-to-recoat"}.
type Key struct {
	Rule    string
	Room    string
	Subject string
}

// String returns the key's parts, joined.
func (k Key) String() string { return k.Rule + "/" + k.Room + "/" + k.Subject }

// Episode is one continuous spell of something worth telling. ID is unique for
// ever; Key comes again in later episodes.
type Episode struct {
	ID       string
	Key      Key
	State    State
	Severity Severity
	Title    string // one line on a lock screen
	Body     string // what to do, until when; the number and the reason
	Since    time.Time
	RaisedAt time.Time
	EndedAt  time.Time
	Once     bool   // never told again under the same key
	Told     uint32 // messages this episode has called for, one per channel each
	// SnoozedUntil is when an acknowledged episode is told again if it is still
	// so; zero: not at all.
	SnoozedUntil time.Time
}

// Stands reports whether the episode was told and is not over.
func (e Episode) Stands() bool { return e.State == Raised || e.State == Acknowledged }
