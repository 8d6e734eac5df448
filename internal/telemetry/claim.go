package telemetry

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Claim is what a hub says of itself to the other hubs at its broker: which
// rooms are its own. Each room is one hub's, which stores, follows and alerts.
type Claim struct {
	Hub      string
	Instance string    // this start of it: tells it from another of the same name
	Since    time.Time // when it first said so, to the millisecond; the earlier claim holds
	Rooms    []string  // none: every room
	Except   []string  // of those, the ones that it leaves to another hub
	Gone     bool      // it has no room: it has ended, or leaves all to others; nothing else is said
}

// MaxOwnRooms is how many rooms one hub can name as its own.
const MaxOwnRooms = 256

const claimKind = "/claim"

// ClaimTopic is where a hub says which rooms are its own, retained, and its will
// that it is gone. A hub named "+" is every hub.
func ClaimTopic(hub string) string { return topicRoot + "hubs/" + hub + claimKind }

type claimJSON struct {
	Hub      string   `json:"hub"`
	Instance string   `json:"instance"`
	Since    string   `json:"since,omitempty"`
	Rooms    []string `json:"rooms,omitempty"`
	Except   []string `json:"except,omitempty"`
	Gone     bool     `json:"gone,omitempty"`
}

// Encode writes the claim as it goes over the wire.
func (c Claim) Encode() ([]byte, error) {
	if err := c.check(); err != nil {
		return nil, fmt.Errorf("encode a claim: %w", err)
	}
	wire := claimJSON{Hub: c.Hub, Instance: c.Instance, Rooms: c.Rooms, Except: c.Except, Gone: c.Gone}
	if !c.Gone {
		wire.Since = c.Since.UTC().Format(stateTime)
	}
	return json.Marshal(wire)
}

// DecodeClaim is the inverse of Encode.
func DecodeClaim(payload []byte) (Claim, error) {
	var wire claimJSON
	if err := decodeNote(payload, &wire); err != nil {
		return Claim{}, fmt.Errorf("claim: %w", err)
	}
	c := Claim{Hub: wire.Hub, Instance: wire.Instance, Gone: wire.Gone}
	if len(wire.Rooms) > 0 {
		c.Rooms = wire.Rooms
	}
	if len(wire.Except) > 0 {
		c.Except = wire.Except
	}
	if !c.Gone || wire.Since != "" {
		since, err := displayDate(wire.Since)
		if err != nil {
			return Claim{}, fmt.Errorf("claim: %w", err)
		}
		c.Since = since.UTC().Truncate(time.Millisecond)
	}
	if err := c.check(); err != nil {
		return Claim{}, fmt.Errorf("claim: %w", err)
	}
	return c, nil
}

func (c Claim) check() error {
	if !ValidName(c.Hub) {
		return fmt.Errorf("the hub is named %q: want 1 to %d of a-z, 0-9 and '-'", c.Hub, maxName)
	}
	if !validBoot(c.Instance) {
		return fmt.Errorf("its start is named %q: want 1 to %d letters, digits or '-'", c.Instance, maxBoot)
	}
	if c.Gone {
		if len(c.Rooms)+len(c.Except) > 0 || !c.Since.IsZero() {
			return errors.New("a hub that is gone names no rooms, and has them since no time")
		}
		return nil
	}
	if !absolute(float64(c.Since.Unix())) {
		return errors.New("it holds since no date from 1978-07-05 to 2242")
	}
	return cmp.Or(CheckOwnRooms(c.Rooms), CheckOwnRooms(c.Except))
}

// CheckOwnRooms says what is wrong with a list of a hub's own rooms.
func CheckOwnRooms(rooms []string) error {
	if len(rooms) > MaxOwnRooms {
		return fmt.Errorf("%d rooms: one hub can name %d", len(rooms), MaxOwnRooms)
	}
	for i, r := range rooms {
		if !ValidName(r) {
			return fmt.Errorf("a room is named %q: want 1 to %d of a-z, 0-9 and '-'", r, maxName)
		}
		if slices.Contains(rooms[:i], r) {
			return fmt.Errorf("room %q is there twice", r)
		}
	}
	return nil
}

// Covers reports whether a room is among those claimed.
func (c Claim) Covers(room string) bool {
	named := len(c.Rooms) == 0 || slices.Contains(c.Rooms, room)
	return named && !c.Gone && !slices.Contains(c.Except, room)
}

// Precedes reports whether a room that both claim is c's. Of two hubs exactly
// one answers yes, whatever their clocks show.
func (c Claim) Precedes(other Claim) bool {
	if !c.Since.Equal(other.Since) {
		return c.Since.Before(other.Since)
	}
	return c.Hub+" "+c.Instance < other.Hub+" "+other.Instance
}

// Shared returns the rooms that both claim and one of them names; all where both
// claim every room.
func (c Claim) Shared(other Claim) (rooms []string, all bool) {
	for _, r := range slices.Concat(c.Rooms, other.Rooms) {
		if c.Covers(r) && other.Covers(r) && !slices.Contains(rooms, r) {
			rooms = append(rooms, r)
		}
	}
	return rooms, len(c.Rooms)+len(other.Rooms) == 0 && !c.Gone && !other.Gone
}
