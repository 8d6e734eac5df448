package alert

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"
	"unicode/utf8"
)

// digestRoom is how much of a body the lines of a digest may fill.
const digestRoom = maxBody - 60

// digest makes one message of held ones of one channel, oldest first. The
// location of now is used for times. An episode that stands alone is told in
// its own words.
func digest(all []Message, over func(episode string) bool, now time.Time) Message {
	stories := byEpisode(all)
	var m Message
	if len(stories) == 1 {
		m = alone(stories[0], over, now)
	} else {
		m = together(stories, over, now)
	}
	m.ID, m.Cause, m.Status, m.Folds = digestID(all), Digest, Waiting, ids(all)
	return m
}

// byEpisode keeps the messages of each episode together, the gravest first.
func byEpisode(all []Message) [][]Message {
	var stories [][]Message
	place := map[string]int{}
	for _, m := range all {
		i, known := place[m.Episode]
		if !known {
			i, place[m.Episode] = len(stories), len(stories)
			stories = append(stories, nil)
		}
		stories[i] = append(stories[i], m)
	}
	sort.SliceStable(stories, func(i, j int) bool { return gravest(stories[i]) > gravest(stories[j]) })
	return stories
}

// gravest is the severity of a story as it is told afterwards: that it ended is
// news, whatever it was.
func gravest(all []Message) Severity {
	if all[len(all)-1].Cause == Ended {
		return Info
	}
	return slices.MaxFunc(all, func(a, b Message) int { return cmp.Compare(a.Severity, b.Severity) }).Severity
}

func alone(story []Message, over func(string) bool, now time.Time) Message {
	last := story[len(story)-1]
	switch {
	case last.Cause == Ended:
		return withPast(last, story[:len(story)-1], now)
	case over(last.Episode):
		last.Body = clip(bodyOverByNow+last.Body, maxBody)
	}
	return last
}

func together(stories [][]Message, over func(string) bool, now time.Time) Message {
	m := stories[0][0]
	m.Key = Key{Rule: ruleDigest, Room: m.Key.Room}
	var body []string
	size := 0
	for _, s := range stories {
		m.Severity = max(m.Severity, gravest(s))
		if s[0].Key.Room != m.Key.Room {
			m.Key.Room = ""
		}
		line := digestLine(s, over(s[0].Episode), now)
		if size += utf8.RuneCountInString(line) + 1; size <= digestRoom {
			body = append(body, line)
		}
	}
	if more := len(stories) - len(body); more > 0 {
		body = append(body, fmt.Sprintf(bodyDigestMore, more))
	}
	m.Title, m.Body, m.At = fmt.Sprintf(titleDigest, len(stories)), strings.Join(body, "\n"), now
	return m
}

func digestLine(story []Message, over bool, now time.Time) string {
	first, last := story[0], story[len(story)-1]
	began := clock(first.At.In(now.Location()), now)
	switch {
	case last.Cause == Ended && len(story) > 1:
		return fmt.Sprintf(digestEnded, began, clock(last.At.In(now.Location()), now), first.Title)
	case last.Cause != Ended && over:
		return fmt.Sprintf(digestOver, began, last.Title)
	}
	return fmt.Sprintf(digestPlain, began, last.Title)
}

// withPast says in the message of an end how it began, where that was not told.
func withPast(end Message, past []Message, now time.Time) Message {
	if len(past) > 0 {
		began := clock(past[0].At.In(now.Location()), now)
		end.Body = clip(strings.TrimSuffix(fmt.Sprintf(bodyBegan, began, past[0].Title)+end.Body, "\n"), maxBody)
	}
	return end
}

func ids(all []Message) []string {
	var names []string
	for _, m := range all {
		names = append(names, m.ID)
	}
	return names
}

// digestID is the same for the same messages.
func digestID(all []Message) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "digest %q", ids(all)))
	return hex.EncodeToString(sum[:16])
}
