package telemetry

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode"
	"unicode/utf8"
)

// Display is what a room's small display shows, as the hub publishes it.
type Display struct {
	At      time.Time // when the hub said so
	Verdict string    // "fit", "caution", "unfit" or "unknown"
	Margin  *float64  // the dew margin at the coldest surface, in kelvins; nil: not known
	Next    *Next     // what is ready next; nil: nothing is waited for
	Alerts  int       // raised, and not acknowledged yet
}

// Next is the stage that comes next in a room. At keeps the offset of the shop's
// own clock, so that the display shows the hour as the shop's clock does,
// whatever the node's is set to.
type Next struct {
	What  string // piece and part
	Stage string
	At    time.Time
}

// The bounds of what a display is told.
const (
	maxDisplay     = 1024 // bytes of the message
	maxWhat        = 60   // characters
	maxStage       = 24
	maxMargin      = 100 // K
	maxAlerts      = 999
	displayTime    = time.RFC3339
	displayVerdict = "fit, caution, unfit or unknown"
)

// DisplayTopic is where the display of a room is told what to show, retained.
func DisplayTopic(room string) string { return topicRoot + room + "/display" }

type displayJSON struct {
	At      string    `json:"at"`
	Verdict string    `json:"verdict"`
	Margin  *float64  `json:"dew_margin_k"`
	Next    *nextJSON `json:"next"`
	Alerts  int       `json:"alerts"`
}

type nextJSON struct {
	What  string `json:"what"`
	Stage string `json:"stage"`
	At    string `json:"ready_at"`
}

// Encode writes the message as it goes over the wire. Names that are too long are
// cut, and what cannot be shown in them is left out.
func (d Display) Encode() ([]byte, error) {
	wire := displayJSON{At: d.At.Format(displayTime), Verdict: d.Verdict, Margin: d.Margin, Alerts: min(d.Alerts, maxAlerts)}
	if d.Next != nil {
		wire.Next = &nextJSON{What: printable(d.Next.What, maxWhat), Stage: printable(d.Next.Stage, maxStage), At: d.Next.At.Format(displayTime)}
	}
	payload, err := json.Marshal(wire)
	if err == nil {
		_, err = DecodeDisplay(payload)
	}
	if err != nil {
		return nil, fmt.Errorf("tell a display: %w", err)
	}
	return payload, nil
}

// printable keeps up to n characters that take up a place on paper.
func printable(s string, n int) string {
	var kept []rune
	for _, r := range s {
		if len(kept) < n && r != utf8.RuneError && unicode.IsPrint(r) {
			kept = append(kept, r)
		}
	}
	return string(kept)
}

// DecodeDisplay is the inverse of Encode, for whatever text comes.
func DecodeDisplay(payload []byte) (Display, error) {
	if len(payload) > maxDisplay {
		return Display{}, fmt.Errorf("display: %d bytes: at most %d are read", len(payload), maxDisplay)
	}
	var wire displayJSON
	if err := decodeNote(payload, &wire); err != nil {
		return Display{}, fmt.Errorf("display: %w", err)
	}
	d, err := wire.display()
	if err != nil {
		return Display{}, fmt.Errorf("display: %w", err)
	}
	return d, nil
}

func (w displayJSON) display() (d Display, err error) {
	d = Display{Verdict: w.Verdict, Margin: w.Margin, Alerts: w.Alerts}
	switch w.Verdict {
	case "fit", "caution", "unfit", "unknown":
	default:
		return d, fmt.Errorf("the verdict is %q: want %s", w.Verdict, displayVerdict)
	}
	if w.Margin != nil && (*w.Margin < -maxMargin || *w.Margin > maxMargin) {
		return d, fmt.Errorf("a dew margin of %v K: want %d to %d", *w.Margin, -maxMargin, maxMargin)
	}
	if w.Alerts < 0 || w.Alerts > maxAlerts {
		return d, fmt.Errorf("%d alerts: want 0 to %d", w.Alerts, maxAlerts)
	}
	if d.At, err = displayDate(w.At); err != nil || w.Next == nil {
		return d, err
	}
	d.Next = &Next{What: w.Next.What, Stage: w.Next.Stage}
	if printable(w.Next.What, maxWhat) != w.Next.What || printable(w.Next.Stage, maxStage) != w.Next.Stage || w.Next.Stage == "" {
		return d, fmt.Errorf("what comes next is named by up to %d printable characters, its stage by 1 to %d", maxWhat, maxStage)
	}
	d.Next.At, err = displayDate(w.Next.At)
	return d, err
}

func displayDate(s string) (time.Time, error) {
	t, err := time.Parse(displayTime, s)
	if err != nil {
		return time.Time{}, err
	}
	if !absolute(float64(t.Unix())) {
		return time.Time{}, errors.New("a date from 1978-07-05 to 2242 is wanted")
	}
	return t, nil
}
