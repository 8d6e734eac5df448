package dashboards

import (
	"math"
	"time"

	"recoat/sensors"
)

// chartRow is one line of the table that says what the chart draws.
type chartRow struct {
	At, Air, DewPoint, Humidity, EMC string
	Surfaces                         []string
	Paces                            []string
	Marks                            string // of what was done, and of alerts that stood
	at                               time.Time
}

// chartRows are the points nearest after each of some equal steps of time.
func (w words) chartRows(a axis, points []Point, names []string, paces []series) []chartRow {
	apart := a.to.Sub(a.from) / maxRows
	var rows []chartRow
	var next time.Time
	for i, p := range points {
		if p.At.Before(next) {
			continue
		}
		next = p.At.Add(apart)
		row := chartRow{at: p.At, At: w.dated(p.At, a), Air: w.optional(p.Air), DewPoint: w.optional(p.DewPoint), Humidity: "–", EMC: "–"}
		if p.Humidity != nil {
			row.Humidity = percent(*p.Humidity)
		}
		if v := p.emc(); v != nil {
			row.EMC = number(*v, 1) + " %"
		}
		for _, name := range names {
			text := "–"
			if c, ok := p.Surfaces[name]; ok {
				text = w.temperature(c)
			}
			row.Surfaces = append(row.Surfaces, text)
		}
		for _, s := range paces {
			row.Paces = append(row.Paces, paceText(s.values[i]))
		}
		rows = append(rows, row)
	}
	return rows
}

func paceText(v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	return number(v, 2)
}

// dated is an instant as exact as a history of that length needs it.
func (w words) dated(t time.Time, a axis) string {
	form := "Mon 15:04"
	switch length := a.to.Sub(a.from); {
	case length > 80*24*time.Hour:
		form = "2 Jan 2006"
	case length > 6*24*time.Hour:
		form = "Mon 2 Jan 15:04"
	}
	return t.In(w.location).Format(w.form(form))
}

func (w words) optional(c *sensors.Celsius) string {
	if c == nil {
		return "–"
	}
	return w.temperature(*c)
}
