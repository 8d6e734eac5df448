package telemetry

import (
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// User may connect to the Broker. Publish and Subscribe are topic filters by
// the standard's rules (MQTT 3.1.1, section 4.7): '+' stands for one level, a
// final '#' for any number. What no filter allows is denied.
type User struct {
	Name      string
	Password  string
	Publish   []string
	Subscribe []string
}

// AgentUser is the user a node's Courier needs.
func AgentUser(name, password, room, node string) User {
	at := func(k Kind) string { return Topic{Room: room, Node: node, Kind: k}.String() }
	return User{Name: name, Password: password, Publish: []string{at(Readings), at(State)}, Subscribe: []string{at(Stored), at(Refused), DisplayTopic(room)}}
}

// DeviceUser is the user a device needs that publishes SenML and has no spool.
func DeviceUser(name, password, room, node string) User {
	return User{Name: name, Password: password, Publish: []string{Topic{Room: room, Node: node, Kind: Readings}.String()}}
}

// HubUser is the user that a hub of that name needs, for every room.
func HubUser(name, password string) User {
	all := func(k Kind) string { return topicRoot + "+/+/" + string(k) }
	return User{Name: name, Password: password, Publish: []string{all(Stored), all(Refused), DisplayTopic("+"), ClaimTopic(name)}, Subscribe: []string{all(Readings), all(State), ClaimTopic("+")}}
}

// account is a User as the broker keeps it: without the password.
type account struct {
	digest             [sha256.Size]byte
	publish, subscribe []string
}

// Nodes are nodes elsewhere that the Broker lets in for their own topics, by
// the user name ROOM/NODE and a password of their own. They are asked at every
// message, so that a node shut out is out at once.
type Nodes struct {
	Admits func(room, node string, password []byte) bool
	Knows  func(room, node string) bool
}

// access decides who may do what on the Broker.
type access struct {
	accounts map[string]account
	nodes    Nodes
}

func newAccess(users []User, nodes Nodes) (*access, error) {
	a := &access{accounts: map[string]account{}, nodes: nodes}
	for _, u := range users {
		if err := checkUser(u); err != nil {
			return nil, err
		}
		if _, twice := a.accounts[u.Name]; twice {
			return nil, fmt.Errorf("user %q is there twice", u.Name)
		}
		a.accounts[u.Name] = account{
			digest:  sha256.Sum256([]byte(u.Password)),
			publish: slices.Clone(u.Publish), subscribe: slices.Clone(u.Subscribe),
		}
	}
	return a, nil
}

func checkUser(u User) error {
	if u.Name == "" {
		return errors.New("a user has no name")
	}
	if strings.Contains(u.Name, "/") {
		return fmt.Errorf("user %q: a name with a slash is a node's", u.Name)
	}
	if u.Password == "" {
		return fmt.Errorf("user %q has no password: give it one", u.Name)
	}
	for _, f := range slices.Concat(u.Publish, u.Subscribe) {
		if !validFilter(f) {
			return fmt.Errorf("user %q: %q is not a topic filter", u.Name, f)
		}
	}
	return nil
}

// admits compares in the same time whether or not there is such a user.
func (a *access) admits(name string, password []byte) bool {
	if room, node, ok := strings.Cut(name, "/"); ok {
		return a.nodes.Admits != nil && a.nodes.Admits(room, node, password)
	}
	acc, known := a.accounts[name]
	digest := sha256.Sum256(password)
	same := subtle.ConstantTimeCompare(digest[:], acc.digest[:]) == 1
	return known && same
}

func (a *access) mayPublish(name, topic string) bool {
	return !strings.ContainsAny(topic, "+#") && a.covered(a.rights(name).publish, topic)
}

func (a *access) maySubscribe(name, filter string) bool {
	return a.covered(a.rights(name).subscribe, filter)
}

// rights returns what a user may do now; nothing for one that is unknown.
func (a *access) rights(name string) account {
	room, node, ok := strings.Cut(name, "/")
	if !ok {
		return a.accounts[name]
	}
	if a.nodes.Knows == nil || !a.nodes.Knows(room, node) {
		return account{}
	}
	u := AgentUser(name, "", room, node)
	return account{publish: u.Publish, subscribe: u.Subscribe}
}

func (a *access) covered(allowed []string, filter string) bool {
	return validFilter(filter) && slices.ContainsFunc(allowed, func(p string) bool { return covers(p, filter) })
}

// validFilter holds a filter to MQTT 3.1.1, section 4.7: a wildcard has its
// level to itself, and '#' is the last.
func validFilter(filter string) bool {
	if filter == "" || len(filter) > 65535 || strings.ContainsRune(filter, 0) {
		return false
	}
	levels := strings.Split(filter, "/")
	for i, level := range levels {
		if len(level) > 1 && strings.ContainsAny(level, "+#") || level == "#" && i < len(levels)-1 {
			return false
		}
	}
	return true
}

// covers reports whether every topic that filter matches is matched by
// pattern. A topic is a filter without wildcards. Wildcards in the first level
// do not stand for names that begin with '$' (section 4.7.2).
func covers(pattern, filter string) bool {
	p, f := strings.Split(pattern, "/"), strings.Split(filter, "/")
	for i, level := range p {
		if level == "#" {
			// Also the level above it: "a/#" matches "a".
			return i > 0 || !strings.HasPrefix(f[0], "$")
		}
		if i >= len(f) || f[i] == "#" {
			return false
		}
		if level == "+" && i == 0 && strings.HasPrefix(f[0], "$") {
			return false
		}
		if level != "+" && level != f[i] {
			return false
		}
	}
	return len(p) == len(f)
}
