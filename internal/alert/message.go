package alert

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
	"unicode"
)

// Status is how far a message has come.
type Status uint8

// The statuses. Files hold their numbers.
const (
	Waiting Status = iota // not tried yet
	Sending               // being tried; after a restart: nobody knows whether it arrived
	Sent                  // the channel took it
	Failed                // the last try failed, another follows
	Dropped               // given up, the note says why
	Held                  // kept back until the router lets it go
	Folded                // told within another message
)

var statusNames = [...]string{"waiting", "sending", "sent", "failed", "dropped", "held", "folded"}

// String returns the status's name.
func (s Status) String() string {
	if int(s) >= len(statusNames) {
		return fmt.Sprintf("status %d", uint8(s))
	}
	return statusNames[s]
}

// Message is one thing to say through one channel.
type Message struct {
	ID       string // idempotency key: one per telling and channel
	Episode  string
	Key      Key
	Cause    Cause
	Channel  string
	Severity Severity
	Title    string
	Body     string
	At       time.Time // when what it tells of happened
	Status   Status
	Attempts uint32
	NextTry  time.Time     // while Failed
	Waited   time.Duration // between tries so far
	Note     string        // why the last try failed, without secrets
	Changed  time.Time     // when the status last changed
	// Folds names the held messages that this one tells instead; it is read by
	// Commit and not kept.
	Folds []string
	// Replies are what a reader can do about it; the courier puts them in, and
	// they are not kept.
	Replies []Reply
}

// The bounds of a message, in characters.
const (
	maxTitle = 60
	maxBody  = 1000
)

// Compose makes the messages that transitions call for, one per channel.
func Compose(transitions []Transition, channels []string) []Message {
	var out []Message
	for _, t := range transitions {
		if t.Cause == Untold {
			continue
		}
		for _, c := range channels {
			out = append(out, Message{
				ID:       messageID(t.Episode.ID, t.Episode.Told, c),
				Episode:  t.Episode.ID,
				Key:      t.Episode.Key,
				Cause:    t.Cause,
				Channel:  c,
				Severity: t.Episode.Severity,
				Title:    clip(oneLine(t.Title), maxTitle),
				Body:     clip(plain(t.Body), maxBody),
				At:       t.At,
			})
		}
	}
	return out
}

// messageID is the same for the same telling and fit for any header.
func messageID(episode string, told uint32, channel string) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %d %q", episode, told, channel))
	return hex.EncodeToString(sum[:16])
}

// plain takes out what is not text, line ends excepted.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case unicode.IsControl(r), r == unicode.ReplacementChar, r == '\u2028', r == '\u2029':
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, " "))
}

// oneLine is plain without line ends, so that no header can be split.
func oneLine(s string) string {
	return strings.Join(strings.Fields(plain(s)), " ")
}

// clip shortens s to at most n characters; the last of a shortened text is an
// ellipsis.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRightFunc(string(r[:max(n-1, 0)]), unicode.IsSpace) + "…"
}
