package telemetry

import (
	"fmt"
	"strings"
)

// Kind is what a topic carries.
type Kind string

// The kinds of topic a node has.
const (
	Readings Kind = "readings" // rounds, from the node to the hub
	State    Kind = "state"    // whether the node is connected, retained
	Stored   Kind = "stored"   // acknowledgements, from the hub to the node
	Refused  Kind = "refused"  // rounds the hub will not have, from the hub to the node
)

const (
	topicRoot = "recoat/1/"
	maxName   = 32
)

// Topic names one stream of one node: recoat/1/<room>/<node>/<kind>.
type Topic struct {
	Room, Node string
	Kind       Kind
}

// String returns the topic as MQTT knows it.
func (t Topic) String() string {
	return topicRoot + t.Room + "/" + t.Node + "/" + string(t.Kind)
}

// ParseTopic is the inverse of Topic.String. It refuses everything else.
func ParseTopic(s string) (Topic, error) {
	rest, ok := strings.CutPrefix(s, topicRoot)
	levels := strings.Split(rest, "/")
	if !ok || len(levels) != 3 {
		return Topic{}, fmt.Errorf("topic %q: want recoat/1/<room>/<node>/<readings, state, stored or refused>", s)
	}
	t := Topic{Room: levels[0], Node: levels[1], Kind: Kind(levels[2])}
	if err := checkNames(t.Room, t.Node); err != nil {
		return Topic{}, fmt.Errorf("topic %q: %w", s, err)
	}
	switch t.Kind {
	case Readings, State, Stored, Refused:
		return t, nil
	}
	return Topic{}, fmt.Errorf("topic %q: the last level is %q, want readings, state, stored or refused", s, levels[2])
}

// ValidName reports whether s can name a room or a node: 1 to 32 characters
// out of a to z, 0 to 9 and '-'.
func ValidName(s string) bool {
	if s == "" || len(s) > maxName {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

func checkNames(room, node string) error {
	if !ValidName(room) {
		return fmt.Errorf("the room is named %q: want 1 to %d of a-z, 0-9 and '-'", room, maxName)
	}
	if !ValidName(node) {
		return fmt.Errorf("the node is named %q: want 1 to %d of a-z, 0-9 and '-'", node, maxName)
	}
	return nil
}
