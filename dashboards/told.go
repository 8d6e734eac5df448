package dashboards

import (
	"context"
	"slices"
	"strings"
	"time"

	"recoat/internal/alert"
)

// Told is what was told of a room.
type Told interface {
	// Told returns the alerts of a room that stood at some time between two
	// instants, oldest first.
	Told(ctx context.Context, room string, from, to time.Time) ([]alert.Episode, error)
}

// toldMark is one alert as a mark on the chart and a line under it.
type toldMark struct {
	id       string
	Mark     string // its letter
	Severity string
	Title    string
	Span     string // "Tue 20:12 to 21:30", or since when it stands
	X, Width string // places on the chart; Width is empty where it is an instant
	End      string
	Begun    bool // its beginning is shown
	Over     bool // its end is shown
	Y        int  // of its row, pixels
	row      int
	from, to time.Time // what of it is shown
}

// mostLetters is how many alerts a chart marks, A to Z; of more, the newest.
const mostLetters = 26

// toldRow is the height of a row of the lane of alerts, and toldRows the most
// rows that marks are spread over so that none stands on another.
const (
	toldRow  = 24
	toldRows = 4
)

// toldApart is how much of the width a mark with its letter takes on a phone, in
// per cent.
const toldApart = 9.0

// told gives each alert that stood in the time of an axis a letter, a place and a
// row. What stands still goes on to the end of the axis.
func (w words) told(a axis, all []alert.Episode) []toldMark {
	all = slices.DeleteFunc(slices.Clone(all), func(e alert.Episode) bool { return !stoodIn(a, e) })
	if len(all) > mostLetters {
		all = all[len(all)-mostLetters:]
	}
	var out []toldMark
	var ends [toldRows]float64
	for i, e := range all {
		m := toldMark{id: e.ID, Mark: string(rune('A' + i)), Severity: e.Severity.String(), Title: w.inUnits(e.Title), from: e.RaisedAt, to: a.to}
		m.Span = w.dated(e.RaisedAt, a)
		switch {
		case e.Once:
			m.to = e.RaisedAt
		case e.State == alert.Cleared:
			m.to, m.Over = e.EndedAt, a.holds(e.EndedAt)
			if end := w.endOf(e, a); end != m.Span {
				m.Span += " to " + end
			}
		default:
			m.Span = "since " + m.Span
		}
		place := a.at(m.from)
		m.row = freeRow(ends[:], place)
		ends[m.row] = max(a.at(m.to), place+toldApart)
		m.X, m.End, m.Y, m.Begun = pct(place), pct(a.at(m.to)), m.row*toldRow, a.holds(m.from)
		if m.to.After(m.from) {
			m.Width = length(a, m.from, m.to)
		}
		out = append(out, m)
	}
	return out
}

func stoodIn(a axis, e alert.Episode) bool {
	switch {
	case e.RaisedAt.After(a.to):
		return false
	case e.Once:
		return !e.RaisedAt.Before(a.from)
	}
	return e.State != alert.Cleared || !e.EndedAt.Before(a.from)
}

// endOf leaves the day out where it is that of the beginning.
func (w words) endOf(e alert.Episode, a axis) string {
	from, to := e.RaisedAt.In(w.location), e.EndedAt.In(w.location)
	if from.YearDay() == to.YearDay() && from.Year() == to.Year() && a.to.Sub(a.from) <= longAxis {
		return to.Format(w.form("15:04"))
	}
	return w.dated(e.EndedAt, a)
}

// freeRow is the first row that is free at a place, else the one that is free
// soonest.
func freeRow(ends []float64, place float64) int {
	best := 0
	for i, end := range ends {
		if end <= place {
			return i
		}
		if end < ends[best] {
			best = i
		}
	}
	return best
}

// toldHeight is that of the lane; 0 where nothing was told.
func toldHeight(all []toldMark) int {
	rows := 0
	for _, m := range all {
		rows = max(rows, m.row+1)
	}
	return rows * toldRow
}

// severities are those that alerts have, the gravest first.
func severities(all []toldMark) []string {
	var out []string
	for _, s := range []alert.Severity{alert.Critical, alert.Warning, alert.Info} {
		if slices.ContainsFunc(all, func(m toldMark) bool { return m.Severity == s.String() }) {
			out = append(out, s.String())
		}
	}
	return out
}

// markRows gives each row of the table the marks of the time up to the next row.
func markRows(v *chartView) {
	for i := range v.Rows {
		from := v.Rows[i].at
		var marks []string
		last := i+1 == len(v.Rows)
		within := func(t time.Time) bool { return !t.Before(from) && (last || t.Before(v.Rows[i+1].at)) }
		for _, d := range v.Done {
			if within(d.at) {
				marks = append(marks, d.Mark)
			}
		}
		for _, m := range v.Told {
			if within(m.from) || m.from.Before(from) && m.to.After(from) {
				marks = append(marks, m.Mark)
			}
		}
		v.Rows[i].Marks = strings.Join(marks, ", ")
	}
}
