package display

import (
	"math"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/room"
	"recoat/internal/telemetry"
)

// Words are what the display of a room is told of a snapshot, at the hub. The
// hours are the shop's, at location.
func Words(s room.Snapshot, location *time.Location) telemetry.Display {
	d := telemetry.Display{At: s.At.In(location), Verdict: s.Verdict.State.String(), Alerts: unseen(s.Alerts)}
	for _, x := range s.Surfaces {
		if m := float64(x.Margin); d.Margin == nil || m < *d.Margin {
			d.Margin = &m
		}
	}
	if d.Margin != nil {
		rounded := math.Round(*d.Margin*10) / 10
		d.Margin = &rounded
	}
	for _, c := range s.Coats {
		if n := next(c); n != nil && (d.Next == nil || n.At.Before(d.Next.At)) {
			n.At = n.At.In(location)
			d.Next = n
		}
	}
	return d
}

func unseen(alerts []alert.Episode) (n int) {
	for _, e := range alerts {
		if e.State == alert.Raised {
			n++
		}
	}
	return n
}

// next is the stage that a coat waits for; nil where none is, or nobody can say
// when.
func next(c room.CoatNow) *telemetry.Next {
	if c.Next < 0 || c.Next >= len(c.Estimates) {
		return nil
	}
	e := c.Estimates[c.Next]
	if e.Likely.IsZero() || len(e.Blocked) > 0 {
		return nil
	}
	what := c.Piece
	if c.Part != "" {
		what += ", " + c.Part
	}
	return &telemetry.Next{What: what, Stage: short(e.Stage), At: e.Likely}
}

// short is a stage in as few letters as a line of the display has room for.
func short(s drying.Stage) string {
	switch s {
	case drying.DryToRecoat:
		return "recoat"
	case drying.SetToTouch:
		return "touch dry"
	}
	return s.String()
}
