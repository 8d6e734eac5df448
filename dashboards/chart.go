package dashboards

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/drying/wood"
	"recoat/internal/alert"
	"recoat/sensors"
)

// chartView is the history of a room, on one scale of time.
type chartView struct {
	Ticks  []tick
	Panels []panel
	Near   []nearDew // when the coldest surface was too near its dew point
	Rows   []chartRow
	Names  []string // of the surfaces, in order
	Paces  []string // of the products whose pace is shown
	Done   []doingView
	Told   []toldMark
	Lane   int      // height of the alerts' lane; 0: none stood
	Kinds  []string // the severities among the alerts
	Marked bool     // the rows of the table have marks
	Unit   string   // of the temperatures
}

// panel is one drawing with a scale of its own.
type panel struct {
	Key    string // names it to the script
	Title  string
	Height int
	Grid   []gridLine
	Lines  []chartLine
	Out    []outside
	Near   bool    // the times too near the dew point are shaded in it
	least  float64 // span of the scale, so that a steady room looks steady
	low    float64 // the scale ends there; -Inf: it does not
	high   float64
	limits []limit
}

type gridLine struct{ Y, Text string }

// chartLine is one series. Style names its colour and its dashes.
type chartLine struct{ Name, Style, Path string }

// limit is a value that the quantity should stay under, or over.
type limit struct {
	value float64
	over  bool // it should stay over it
	text  string
}

// outside is the part of a panel beyond a limit, with the limit's own line.
type outside struct{ Y, Height, Line, Text, TextY string }

// nearDew is a stretch of time, as places on the scale.
type nearDew struct {
	X, Width string
	from, to time.Time
}

// series is one line before it is drawn. A value is NaN where nothing was
// measured.
type series struct {
	name, style string
	values      []float64
}

const maxSurfaceStyles = 3

// charted is what a chart is drawn from.
type charted struct {
	points []Point // with their gaps
	done   []Doing
	told   []alert.Episode
	limits drying.Limits
	window window // what is shown, and what marks are counted in
}

// chart returns nil where nothing was measured.
func (w words) chart(c charted) *chartView {
	if len(c.points) == 0 {
		return nil
	}
	a := axis{from: c.window.from, to: c.window.to, now: c.window.to, location: w.location}
	names := surfaceNames(c.points)
	paces := pacesOf(c.points, c.done)
	v := &chartView{
		Ticks: a.ticks(), Names: names, Unit: w.temperatureUnit(), Near: nearDews(a, c.points, c.limits.DewMarginMin),
		Done: w.doings(a, c.done), Told: w.told(a, c.told), Rows: w.chartRows(a, c.points, names, paces),
	}
	v.Lane, v.Kinds, v.Marked = toldHeight(v.Told), severities(v.Told), len(v.Told)+len(v.Done) > 0
	markRows(v)
	for _, p := range paces {
		v.Paces = append(v.Paces, p.name)
	}
	for _, p := range w.panels(c.limits, len(paces) > 0) {
		v.Panels = append(v.Panels, drawPanel(a, c.points, w.seriesOf(p.Key, c.points, names, paces), p))
	}
	return v
}

// panels are the drawings of a chart, from above.
func (w words) panels(l drying.Limits, paces bool) []panel {
	share := panel{Title: "Relative humidity, %", Key: "humidity", Height: 150, least: 20, low: 0, high: 100}
	if l.HumidityMax > 0 {
		share.limits = []limit{{float64(l.HumidityMax), false, percent(l.HumidityMax)}}
	}
	all := []panel{
		{Title: "Temperature, " + w.temperatureUnit(), Key: "temperature", Height: 240, least: 6, low: math.Inf(-1), high: math.Inf(1), Near: true, limits: []limit{
			{w.temperatureValue(l.AirMin), true, w.limitOf(l.AirMin)}, {w.temperatureValue(l.AirMax), false, w.limitOf(l.AirMax)},
		}},
		share,
		{Title: "Wood moisture in this air, %", Key: "wood", Height: 100, least: 4, low: 0, high: 100},
	}
	if paces {
		all = append(all, panel{Title: "Pace: 1 is as on the label, 0 stands still", Key: "pace", Height: 120, least: 1, low: 0, high: math.Inf(1)})
	}
	return all
}

// limitOf is a limit of the air without needless decimals.
func (w words) limitOf(c sensors.Celsius) string {
	return number(w.temperatureValue(c), 0) + " " + w.temperatureUnit()
}

func (w words) seriesOf(key string, points []Point, names []string, paces []series) []series {
	switch key {
	case "temperature":
		return w.temperatureSeries(points, names)
	case "humidity":
		return []series{{"relative humidity", "rh", values(points, func(p Point) *float64 { return (*float64)(p.Humidity) })}}
	case "wood":
		return []series{{"wood moisture", "rh", values(points, Point.emc)}}
	default:
		return paces
	}
}

// emc is where wood left in this air would end up, per cent.
func (p Point) emc() *float64 {
	if p.Air == nil || p.Humidity == nil {
		return nil
	}
	v := wood.EMC(*p.Air, *p.Humidity)
	return &v
}

// nearDews are the stretches in which the coldest surface was closer to its dew
// point than the limit. Each point stands for the time up to the next.
func nearDews(a axis, points []Point, limit sensors.Kelvins) []nearDew {
	var out []nearDew
	open := false
	for i, p := range points {
		c, ok := conditionsAt(p)
		near := ok && p.DewPoint != nil && c.Surface.Sub(*p.DewPoint) < limit
		end := p.At
		if i+1 < len(points) {
			end = points[i+1].At
		}
		switch {
		case !near:
			open = false
			continue
		case open:
			out[len(out)-1].to = end
		default:
			out = append(out, nearDew{from: p.At, to: end})
		}
		open = true
	}
	for i := range out {
		out[i].X, out[i].Width = pct(a.at(out[i].from)), length(a, out[i].from, out[i].to)
	}
	return out
}

// withGaps puts an empty point where readings stopped for longer than the
// drying model bridges, or than the points are wide apart elsewhere, so that no
// line is drawn across what was not measured.
func withGaps(points []Point) []Point {
	if len(points) < 3 {
		return points
	}
	var apart []time.Duration
	for i := range len(points) - 1 {
		apart = append(apart, points[i+1].At.Sub(points[i].At))
	}
	usual := slices.Sorted(slices.Values(apart))[len(apart)/2]
	bridged := max(3*usual, drying.MaxGap)
	out := make([]Point, 0, len(points))
	for i, p := range points {
		if i > 0 && apart[i-1] > bridged {
			out = append(out, Point{At: points[i-1].At.Add(usual)})
		}
		out = append(out, p)
	}
	return out
}

func surfaceNames(points []Point) []string {
	var names []string
	for _, p := range points {
		for name := range p.Surfaces {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	return names
}

func values(points []Point, get func(Point) *float64) []float64 {
	out := make([]float64, len(points))
	for i, p := range points {
		out[i] = math.NaN()
		if v := get(p); v != nil {
			out[i] = *v
		}
	}
	return out
}

func (w words) temperatureSeries(points []Point, names []string) []series {
	shown := func(get func(Point) *sensors.Celsius) []float64 {
		return values(points, func(p Point) *float64 {
			c := get(p)
			if c == nil {
				return nil
			}
			v := w.temperatureValue(*c)
			return &v
		})
	}
	all := []series{
		{"air", "air", shown(func(p Point) *sensors.Celsius { return p.Air })},
		{"dew point", "dew", shown(func(p Point) *sensors.Celsius { return p.DewPoint })},
	}
	for i, name := range names {
		style := fmt.Sprintf("surface-%d", i%maxSurfaceStyles+1)
		all = append(all, series{name, style, shown(func(p Point) *sensors.Celsius {
			if c, ok := p.Surfaces[name]; ok {
				return &c
			}
			return nil
		})})
	}
	return all
}

// drawPanel scales the series to the panel and draws them.
func drawPanel(a axis, points []Point, all []series, p panel) panel {
	low, high, step := niceScale(all, p.least)
	low, high = max(low, p.low), min(high, p.high)
	y := scale{low: low, high: high, height: float64(p.Height), pad: 10}
	for v := low; v <= high+step/2; v += step {
		p.Grid = append(p.Grid, gridLine{Y: px(y.y(v)), Text: number(v, decimals(step))})
	}
	for _, s := range all {
		p.Lines = append(p.Lines, chartLine{Name: s.name, Style: s.style, Path: seriesPath(a, points, s.values, y)})
	}
	for _, l := range p.limits {
		if l.value > low && l.value < high {
			p.Out = append(p.Out, y.outside(l))
		}
	}
	return p
}

func decimals(step float64) int {
	if step < 1 {
		return 1
	}
	return 0
}

// outside is what lies beyond a limit, up to the panel's edge.
func (s scale) outside(l limit) outside {
	at := s.y(l.value)
	if l.over {
		return outside{Y: px(at), Height: px(s.height - at), Line: px(at), Text: "not under " + l.text, TextY: px(at - 5)}
	}
	return outside{Y: "0", Height: px(at), Line: px(at), Text: "not over " + l.text, TextY: px(at + 15)}
}

// niceScale spans all values, and at least so much, in some four even steps.
func niceScale(all []series, least float64) (low, high, step float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range all {
		for _, v := range s.values {
			if !math.IsNaN(v) {
				low, high = math.Min(low, v), math.Max(high, v)
			}
		}
	}
	if low > high {
		return 0, least, least
	}
	if spare := least - (high - low); spare > 0 {
		low, high = low-spare/2, high+spare/2
	}
	step = 0.5
	for _, s := range []float64{1, 2, 5, 10, 20, 50, 100} {
		if (high-low)/step > 4 {
			step = s
		}
	}
	return math.Floor(low/step) * step, math.Ceil(high/step) * step, step
}

func seriesPath(a axis, points []Point, values []float64, y scale) string {
	var d strings.Builder
	pen := false
	for i, v := range values {
		if math.IsNaN(v) {
			pen = false
			continue
		}
		move := "M"
		if pen {
			move = "L"
		}
		fmt.Fprintf(&d, "%s%.1f %.1f", move, a.at(points[i].At)*pathWidth/100, y.y(v))
		pen = true
	}
	return d.String()
}

const maxRows = 24
