package dashboards

import (
	"fmt"
	"math"
	"strings"
	"time"

	"recoat/internal/room"
	"recoat/sensors"
)

// The band is bandHeight pixels high and scaled in width only: paths lie in a
// box of pathWidth units that is stretched to the width of the strip.
const (
	bandHeight = 128
	bandPad    = 12
	pathWidth  = 1000
)

// bandView draws the dew margin under the strip.
type bandView struct {
	Height   int
	Past     string // path of what was measured
	Ahead    string // path of what is projected
	Spread   string // area of the projection, low to high
	LimitY   string
	LimitAt  string // where the limit's words stand
	Limit    string
	Top      string // highest label
	Zero     string // y of the dew point
	Now      string
	Rows     []marginRow
	Gap      string // where a long gap is named, empty if there is none
	HasAhead bool
	TableID  string
}

// marginRow is one line of the table that says what the band draws.
type marginRow struct {
	At     string
	Margin string
	Span   string // of a projection; "measured" where it is none
}

// scale maps a value to a height, the greater the higher.
type scale struct {
	low, high float64
	height    float64
	pad       float64
}

func (s scale) y(v float64) float64 {
	share := (v - s.low) / (s.high - s.low)
	return s.height - s.pad - share*(s.height-2*s.pad)
}

// band returns nil when nothing is known of the margin.
func (w words) band(a axis, s room.Snapshot) *bandView {
	points := within(a, s.Margin)
	if len(points) == 0 {
		return nil
	}
	y := marginScale(points, s.Limit)
	limitY := y.y(float64(s.Limit))
	b := &bandView{
		Height:  bandHeight,
		LimitY:  px(limitY),
		Limit:   w.limit(s.Limit) + ": under this, do not coat",
		Top:     w.limit(sensors.Kelvins(y.high)),
		Zero:    px(y.y(0)),
		Now:     pct(a.at(a.now)),
		Rows:    w.marginRows(a, points),
		Gap:     longGap(a, points),
		TableID: "margin-" + s.Room,
	}
	b.LimitAt = px(limitY + 16)
	if limitY+20 > bandHeight {
		b.LimitAt = px(limitY - 6)
	}
	b.Past = line(a, points, y, false)
	b.Ahead = line(a, points, y, true)
	b.Spread = spread(a, points, y)
	b.HasAhead = b.Ahead != ""
	return b
}

func px(v float64) string { return fmt.Sprintf("%.1f", v) }

// within keeps the points on the axis, if any of them holds a value.
func within(a axis, all []room.MarginPoint) []room.MarginPoint {
	var points []room.MarginPoint
	known := false
	for _, p := range all {
		if a.holds(p.At) {
			points = append(points, p)
			known = known || p.Known
		}
	}
	if !known {
		return nil
	}
	return points
}

// marginScale holds zero, the limit and every point, in whole kelvins.
func marginScale(points []room.MarginPoint, limit sensors.Kelvins) scale {
	low, high := 0.0, math.Max(6, float64(limit)+2)
	for _, p := range points {
		if !p.Known {
			continue
		}
		low, high = math.Min(low, float64(p.Margin)), math.Max(high, float64(p.Margin))
		if p.Projected {
			low, high = math.Min(low, float64(p.Low)), math.Max(high, float64(p.High))
		}
	}
	return scale{low: math.Floor(low), high: math.Ceil(high), height: bandHeight, pad: bandPad}
}

// line is the path of the measured or the projected points, broken at gaps.
// The projection starts where the measured line ends.
func line(a axis, points []room.MarginPoint, y scale, projected bool) string {
	var d strings.Builder
	pen := false
	for i, p := range points {
		joins := projected && !p.Projected && i+1 < len(points) && points[i+1].Projected
		if !p.Known || (p.Projected != projected && !joins) {
			pen = false
			continue
		}
		move := "M"
		if pen {
			move = "L"
		}
		fmt.Fprintf(&d, "%s%.1f %.1f", move, a.at(p.At)*pathWidth/100, y.y(float64(p.Margin)))
		pen = true
	}
	return d.String()
}

// spread is the area between the low and the high end of the projection.
func spread(a axis, points []room.MarginPoint, y scale) string {
	var over, under strings.Builder
	move := "M"
	var back []string
	for _, p := range points {
		if !p.Projected || !p.Known {
			continue
		}
		x := a.at(p.At) * pathWidth / 100
		fmt.Fprintf(&over, "%s%.1f %.1f", move, x, y.y(float64(p.High)))
		back = append(back, fmt.Sprintf("L%.1f %.1f", x, y.y(float64(p.Low))))
		move = "L"
	}
	if len(back) < 2 {
		return ""
	}
	for i := len(back) - 1; i >= 0; i-- {
		under.WriteString(back[i])
	}
	return over.String() + under.String() + "Z"
}

// gapForWords is how wide a gap must be to name it, in per cent of the strip.
const gapForWords = 20

// longGap is the middle of the first gap wide enough for words.
func longGap(a axis, points []room.MarginPoint) string {
	end := a.from // of what is known so far
	for _, p := range append(points, room.MarginPoint{At: a.to, Known: true}) {
		if !p.Known {
			continue
		}
		if from, to := a.at(end), a.at(p.At); to-from > gapForWords {
			return pct((from + to) / 2)
		}
		end = p.At
	}
	return ""
}

// marginRows are points about an hour apart.
func (w words) marginRows(a axis, points []room.MarginPoint) []marginRow {
	var rows []marginRow
	var next time.Time
	for _, p := range points {
		if p.At.Before(next) {
			continue
		}
		next = p.At.Add(time.Hour)
		row := marginRow{At: w.clock(p.At, a.now), Margin: "not known", Span: "–"}
		if p.Known {
			row.Margin, row.Span = w.difference(p.Margin), "measured"
		}
		if p.Known && p.Projected {
			row.Span = w.difference(p.Low) + " to " + w.difference(p.High)
		}
		rows = append(rows, row)
	}
	return rows
}
