package dashboards

import (
	"context"
	"math"
	"slices"
	"time"

	"recoat/drying"
)

// Doings is what was done in a room.
type Doings interface {
	// Doings returns what was done in a room from one instant to another, oldest
	// first.
	Doings(ctx context.Context, room string, from, to time.Time) ([]Doing, error)
}

// Doing is a coat that was put on, or a touch test.
type Doing struct {
	At   time.Time
	Text string       // "Linen press, doors: Quiet Harbour colour coat"
	Coat string       // identifier of the coat
	Put  *drying.Coat // the coat, where it was put on; nil: it was touched
}

// doingView is one of what was done, as a mark on the chart and a line under it.
type doingView struct {
	Mark  string // its number
	At    string
	Text  string
	X     string // place on the chart
	Touch bool
	at    time.Time
}

// mostMarks is how many marks a chart can carry and still be read; of more, the
// newest are shown.
const mostMarks = 40

func (w words) doings(a axis, all []Doing) []doingView {
	views := make([]doingView, 0, len(all))
	for i, d := range newest(all) {
		views = append(views, doingView{
			Mark: number(float64(i+1), 0), At: w.dated(d.At, a), Text: d.Text, X: pct(a.at(d.At)), Touch: d.Put == nil, at: d.At,
		})
	}
	return views
}

func newest[T any](all []T) []T {
	if len(all) > mostMarks {
		return all[len(all)-mostMarks:]
	}
	return all
}

// mostPaces is how many products the chart of the pace shows at once.
const mostPaces = 3

// pacesOf returns, for each product put on, newest first, how fast the room
// would have dried it at every point: label hours per clock hour until it can
// take the next coat. A value is NaN where it cannot be computed.
func pacesOf(points []Point, all []Doing) []series {
	var out []series
	for _, d := range slices.Backward(all) {
		if d.Put == nil || len(out) == mostPaces || slices.ContainsFunc(out, func(s series) bool { return s.name == d.Put.Product.Name }) {
			continue
		}
		meter, err := drying.NewMeter(*d.Put)
		if err != nil {
			continue // a label that nothing can be reckoned with; its coat says so
		}
		stated := d.Put.Product.Stated.Times[drying.DryToRecoat].Seconds()
		s := series{name: d.Put.Product.Name, style: []string{"air", "dew", "surface-1"}[len(out)]}
		for i := range points {
			s.values = append(s.values, paceAt(meter, points[i], stated))
		}
		out = append(out, s)
	}
	return out
}

// paceAt is NaN where the point does not say enough, or nothing can be computed.
func paceAt(meter *drying.Meter, p Point, stated float64) float64 {
	c, ok := conditionsAt(p)
	if !ok {
		return math.NaN()
	}
	gauge, ok := meter.Read(c)
	if !ok {
		return math.NaN()
	}
	return gauge.Rates[drying.DryToRecoat] * stated
}

// conditionsAt takes the coldest surface for the part's, the air's where none is
// measured.
func conditionsAt(p Point) (drying.Conditions, bool) {
	if p.Air == nil || p.Humidity == nil {
		return drying.Conditions{}, false
	}
	c := drying.Conditions{Air: *p.Air, Humidity: *p.Humidity, Surface: *p.Air}
	for _, s := range p.Surfaces {
		if !c.SurfaceMeasured || s < c.Surface {
			c.Surface, c.SurfaceMeasured = s, true
		}
	}
	return c, true
}
