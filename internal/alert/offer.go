package alert

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"recoat/drying"
)

// The actions that a link can ask for. Links that were sent hold their names.
const (
	ActionSeen   = "seen"   // acknowledge the episode
	ActionSnooze = "snooze" // Subject says for how long, as "1h"
	ActionCoat   = "coat"   // Subject is the coat on which another one was put
	ActionTouch  = "touch"  // Subject is the coat and what was found, as "c-0007 dry"
)

// linkLife is how long after its sending the links of a message hold.
const linkLife = 24 * time.Hour

// Reply is what a reader can do straight from a message.
type Reply struct {
	Label string `json:"label"`
	URL   string `json:"url"`
}

// Linker makes the links of messages.
type Linker struct {
	signer *Signer
	base   string
}

// NewLinker makes links below base, such as "http://192.0.2.7:7424/l/".
func NewLinker(s *Signer, base string) *Linker { return &Linker{signer: s, base: base} }

// Replies returns what can be done about a message that is sent now.
func (l *Linker) Replies(m Message, now time.Time) ([]Reply, error) {
	var all []Reply
	for _, o := range offers(m) {
		token, err := l.signer.Sign(Link{
			Action: o.action, Subject: o.subject, Episode: m.Episode, Expires: now.Add(linkLife), Nonce: o.nonce(m),
		}, now)
		if err != nil {
			return nil, err
		}
		all = append(all, Reply{Label: o.label, URL: l.base + token})
	}
	return all, nil
}

// offer is one thing that can be done about a message.
type offer struct{ label, action, subject string }

func offers(m Message) []offer {
	told := m.Cause == First || m.Cause == Repeat || m.Cause == Escalated || m.Cause == Digest
	if !told || m.Episode == "" {
		return nil
	}
	switch m.Key.Rule {
	case ruleDigest, ruleSelfTest, ruleAllWell, ruleTrial:
		return nil
	case ruleReady:
		return readyOffers(m)
	}
	return []offer{{offerSeen, ActionSeen, ""}, {offerSnooze, ActionSnooze, "1h"}}
}

func readyOffers(m Message) []offer {
	coat, rest, _ := strings.Cut(m.Key.Subject, "/")
	stage, _, _ := strings.Cut(rest, "/")
	all := []offer{{offerDry, ActionTouch, coat + " dry"}, {offerTacky, ActionTouch, coat + " tacky"}}
	if stage == drying.DryToRecoat.String() {
		all = append(all, offer{offerCoat, ActionCoat, coat})
	}
	return append(all, offer{offerSeen, ActionSeen, ""})
}

// nonce is the same in every try and on every channel. What is taken down in
// the journal is so once for each episode; what quiets an alert is so once for
// each telling.
func (o offer) nonce(m Message) string {
	var telling int64
	if o.action == ActionSeen || o.action == ActionSnooze {
		telling = millis(m.At)
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %q %q %d", m.Episode, o.action, o.subject, telling))
	return hex.EncodeToString(sum[:16])
}

// Text is the message's body with what can be done about it, each on a line of
// its own, for channels that send text.
func (m Message) Text() string {
	var b strings.Builder
	b.WriteString(m.Body)
	for _, r := range m.Replies {
		fmt.Fprintf(&b, "\n%s: %s", r.Label, r.URL)
	}
	return b.String()
}
