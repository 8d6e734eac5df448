package dashboards

import (
	"cmp"
	"strconv"
	"time"
)

// axis maps time to a place along the strip, in per cent of its width, so that
// one drawing fits every screen.
type axis struct {
	from, to, now time.Time
	location      *time.Location
	form          string // of a time of day on the scale; empty: 15:04
}

const (
	stripPast  = 2 * time.Hour // shown before now
	smallHours = 4             // until then a night still belongs to the day before
)

// tonightAxis runs from a little before now to tomorrow noon; in the small
// hours that is the noon of the same date.
func tonightAxis(now time.Time, loc *time.Location) axis {
	y, m, d := now.In(loc).Date()
	if now.In(loc).Hour() >= smallHours {
		d++
	}
	return axis{from: now.Add(-stripPast), to: time.Date(y, m, d, 12, 0, 0, 0, loc), now: now, location: loc}
}

// at is the place of t, kept inside the axis.
func (a axis) at(t time.Time) float64 {
	share := float64(t.Sub(a.from)) / float64(a.to.Sub(a.from))
	return 100 * min(max(share, 0), 1)
}

func (a axis) holds(t time.Time) bool { return !t.Before(a.from) && !t.After(a.to) }

// pct writes a place as an SVG length.
func pct(place float64) string { return strconv.FormatFloat(place, 'f', 2, 64) + "%" }

// anchor says which end of a text stands at a place, so that it stays inside.
func anchor(place float64) string {
	switch {
	case place < 22:
		return "start"
	case place > 78:
		return "end"
	default:
		return "middle"
	}
}

// tick is one line of the time scale. Text is empty where a label would run
// into another.
type tick struct {
	X, Anchor, Text string
	Midnight        bool
}

// ticks are whole local hours, days or months, so many apart that some six
// labels fit a phone.
func (a axis) ticks(keepClear ...time.Time) []tick {
	var out []tick
	told := -apartLabels // place of the last label's middle
	for _, t := range a.instants() {
		place := a.at(t)
		k := tick{X: pct(place), Anchor: edge(place), Text: a.label(t), Midnight: t.Hour() == 0}
		middle := middleOf(place)
		for _, c := range keepClear {
			if d := middle - middleOf(a.at(c)); d > -apartLabels && d < apartLabels {
				k.Text = ""
			}
		}
		if k.Text != "" && middle-told < max(apartLabels, 2.3*float64(len(k.Text))) {
			k.Text = ""
		}
		if k.Text != "" {
			told = middle
		}
		out = append(out, k)
	}
	return out
}

// middleOf is where the middle of a label at a place comes to stand: at either
// edge it leans inwards.
func middleOf(place float64) float64 {
	return place + map[string]float64{"start": 1, "end": -1}[edge(place)]*apartLabels/2
}

// apartLabels is how far labels must stand apart on a phone, in per cent.
const apartLabels = 12.0

// longAxis is from where on a scale has whole days and months.
const longAxis = 10 * 24 * time.Hour

// instants are those of the scale.
func (a axis) instants() []time.Time {
	start := a.from.In(a.location)
	hours, days, months := a.step(), 0, 0
	if a.to.Sub(a.from) > longAxis {
		hours = 0
		days, months = a.longStep()
		start = time.Date(start.Year(), start.Month(), 1, 0, 0, 0, 0, a.location)
		if months > 1 {
			start = time.Date(start.Year(), time.January, 1, 0, 0, 0, 0, a.location)
		}
	}
	var out []time.Time
	var last time.Time
	for n := 0; ; n++ {
		t := time.Date(start.Year(), start.Month()+time.Month(n*months), start.Day()+n*days, n*hours, 0, 0, 0, a.location)
		if t.After(a.to) {
			return out
		}
		if t.Before(a.from) || t.Equal(last) { // an hour the clock skips gives its neighbour again
			continue
		}
		last = t
		out = append(out, t)
	}
}

// longStep is the distance of two ticks of a long scale, in days or in months.
func (a axis) longStep() (days, months int) {
	length := a.to.Sub(a.from).Hours() / 24
	for _, d := range []int{2, 7, 14} {
		if length/float64(d) <= 7 {
			return d, 0
		}
	}
	for _, m := range []int{1, 2, 3, 6, 12} {
		if length/(30.44*float64(m)) <= 7 {
			return 0, m
		}
	}
	return 0, 24
}

// step is the distance of two ticks, in hours.
func (a axis) step() int {
	hours := a.to.Sub(a.from).Hours()
	for _, step := range []int{1, 2, 3, 6, 12, 24} {
		if hours/float64(step) <= 7 {
			return step
		}
	}
	return 48
}

func (a axis) label(t time.Time) string {
	switch length := a.to.Sub(a.from); {
	case length > 900*24*time.Hour:
		return t.Format("Jan 2006")
	case length > 90*24*time.Hour:
		return t.Format("2 Jan")
	case length > longAxis || t.Hour() == 0 && length > 40*time.Hour:
		return t.Format("Mon 2")
	default:
		return t.Format(cmp.Or(a.form, "15:04"))
	}
}

// edge is anchor for texts as short as a time of day.
func edge(place float64) string {
	switch {
	case place < 5:
		return "start"
	case place > 95:
		return "end"
	default:
		return "middle"
	}
}
