package dashboards

import (
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
)

// alertsView is the page Alerts.
type alertsView struct {
	Standing []standingView // not acknowledged
	Seen     []standingView
	Held     []heldView
	Until    string // when quiet hours end; empty: these are none
	Told     []toldView
	Channels []channelView
	Wishes   []wishView
	Coats    []option // that can be asked about
	Rooms    []option
	Beat     string // what came of the last heartbeat; empty: there is none
	Preview  bool
	Push     bool
}

// standingView is one alert that is not over.
type standingView struct {
	alertView
	Room  string
	Again string // when it is told again; empty: it is not put off
}

// heldView is one message that waits.
type heldView struct{ At, Title string }

// toldView is one telling, whatever the channels.
type toldView struct {
	At, Why, Title, Severity string
	Fates                    []string // one for each channel
}

// channelView is one channel.
type channelView struct {
	Name, Last, Trial string
	Waiting           string // what waits, and why; empty: nothing
	Failed            bool   // the last test did
}

type wishView struct{ ID, Text string }

// mostTold is how many tellings the page shows.
const mostTold = 40

func (w words) alertsView(b AlertBoard, snapshots []room.Snapshot, now time.Time) alertsView {
	v := alertsView{Told: w.tellings(b.Messages, now)}
	for _, e := range b.Episodes {
		if !e.Stands() {
			continue
		}
		s := standingView{alertView: w.alerts([]alert.Episode{e}, now)[0], Room: roomNamed(snapshots, e.Key.Room)}
		if !e.SnoozedUntil.IsZero() {
			s.Again = w.clock(e.SnoozedUntil, now)
		}
		if s.Seen {
			v.Seen = append(v.Seen, s)
		} else {
			v.Standing = append(v.Standing, s)
		}
	}
	for _, m := range onePerTelling(b.Held) {
		v.Held = append(v.Held, heldView{w.clock(m.At, now), m.Title})
	}
	if !b.QuietEnds.IsZero() {
		v.Until = w.clock(b.QuietEnds, now)
	}
	for _, c := range b.Channels {
		v.Channels = append(v.Channels, w.channel(c, now))
	}
	for _, wish := range b.Wishes {
		v.Wishes = append(v.Wishes, wishView{wish.ID, w.wish(wish, snapshots)})
	}
	v.Coats, v.Rooms = askable(snapshots)
	if b.Beat {
		v.Beat = w.beat(b.Heartbeat, now)
	}
	return v
}

func roomNamed(snapshots []room.Snapshot, id string) string {
	for _, s := range snapshots {
		if s.Room == id {
			return roomTitle(s)
		}
	}
	if id == "" {
		return "recoat itself"
	}
	return id
}

// askable lists the coats and the rooms that somebody can ask to be told of.
func askable(snapshots []room.Snapshot) (coats, rooms []option) {
	for _, s := range snapshots {
		rooms = append(rooms, option{s.Room, roomTitle(s)})
		for _, c := range s.Coats {
			if c.Next >= 0 {
				coats = append(coats, option{c.ID, coatTitle(c) + ": " + stageWords[c.Estimates[c.Next].Stage].state})
			}
		}
	}
	return coats, rooms
}

func coatTitle(c room.CoatNow) string {
	if c.Part == "" {
		return c.Piece
	}
	return c.Piece + ", " + c.Part
}

// causes say why a message was sent.
var causes = map[alert.Cause]string{
	alert.First: "new", alert.Repeat: "still so", alert.Ended: "over",
	alert.Escalated: "nobody had seen it", alert.Digest: "held back before",
}

// tellings put the messages of one telling together, newest first.
func (w words) tellings(messages []alert.Message, now time.Time) []toldView {
	var out []toldView
	place := map[string]int{}
	for _, m := range messages {
		if m.Status == alert.Held || m.Status == alert.Folded {
			continue
		}
		key := tellingOf(m)
		i, known := place[key]
		if !known {
			if len(out) == mostTold {
				break
			}
			i, place[key] = len(out), len(out)
			out = append(out, toldView{At: w.clock(m.At, now), Why: causes[m.Cause], Title: m.Title, Severity: m.Severity.String()})
		}
		out[i].Fates = append(out[i].Fates, w.fate(m, now))
	}
	return out
}

func tellingOf(m alert.Message) string {
	return fmt.Sprint(m.Episode, m.Cause, m.At.UnixMilli(), m.Title)
}

// onePerTelling keeps one message of each telling.
func onePerTelling(all []alert.Message) []alert.Message {
	var out []alert.Message
	seen := map[string]bool{}
	for _, m := range all {
		if key := tellingOf(m); !seen[key] {
			seen[key] = true
			out = append(out, m)
		}
	}
	return out
}

// fate says what became of one message.
func (w words) fate(m alert.Message, now time.Time) string {
	switch m.Status {
	case alert.Sent:
		return m.Channel + ": taken " + w.clock(m.Changed, now)
	case alert.Failed:
		return fmt.Sprintf("%s: not taken (%s), tried again %s", m.Channel, m.Note, w.clock(m.NextTry, now))
	case alert.Dropped:
		return m.Channel + ": not sent, " + m.Note
	case alert.Sending:
		return m.Channel + ": on its way"
	}
	return m.Channel + ": waits"
}

func (w words) channel(c alert.ChannelState, now time.Time) channelView {
	v := channelView{Name: c.Channel, Last: "has taken nothing yet"}
	if !c.Sent.IsZero() {
		v.Last = "took a message " + w.clock(c.Sent, now)
	}
	if c.Waiting > 0 {
		v.Waiting = fmt.Sprintf("%d wait", c.Waiting)
		if c.Waiting == 1 {
			v.Waiting = "one waits"
		}
		if c.Why != "" {
			v.Waiting += ": " + c.Why
		}
	}
	if t := c.Trial; t != nil {
		v.Failed = t.Failed != ""
		v.Trial = w.trial(*t, now)
	}
	return v
}

func (w words) trial(t alert.Trial, now time.Time) string {
	if t.Failed != "" {
		return "Tried " + w.clock(t.At, now) + ": " + t.Failed
	}
	return fmt.Sprintf("Tried %s: taken after %.1f s. Look whether it has reached you.", w.clock(t.At, now), t.Took.Seconds())
}

func (w words) beat(t *alert.Trial, now time.Time) string {
	switch {
	case t == nil:
		return "Heartbeat: none has gone out yet."
	case t.Failed != "":
		return "Heartbeat " + w.clock(t.At, now) + ": " + t.Failed + "."
	}
	return "Heartbeat: the last went out " + w.clock(t.At, now) + "."
}

func (w words) wish(x alert.Wish, snapshots []room.Snapshot) string {
	if x.Coat == "" {
		return "When it is fit to coat again: " + roomNamed(snapshots, x.Room)
	}
	name := x.Coat
	for _, s := range snapshots {
		for _, c := range s.Coats {
			if c.ID == x.Coat {
				name = coatTitle(c)
			}
		}
	}
	stage := strings.ReplaceAll(x.Stage, "-", " ")
	for i := range drying.StageCount {
		if drying.Stage(i).String() == x.Stage {
			stage = stageWords[i].state
		}
	}
	if x.Ahead == 0 {
		return fmt.Sprintf("When it is %s: %s", stage, name)
	}
	return fmt.Sprintf("%s before it is %s: %s", spanWords(x.Ahead), stage, name)
}

// spanWords is a wish's span: whole hours or minutes.
func spanWords(d time.Duration) string {
	switch {
	case d == time.Hour:
		return "One hour"
	case d%time.Hour == 0:
		return fmt.Sprintf("%d hours", d/time.Hour)
	}
	return fmt.Sprintf("%d minutes", d/time.Minute)
}
