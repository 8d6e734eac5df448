package dashboards

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/sensors"
)

// chartView is the history of a room: temperatures over humidity, on one scale
// of time.
type chartView struct {
	Ticks  []tick
	Panels []panel
	Rows   []chartRow
	Names  []string // of the surfaces, in order
	Unit   string   // of the temperatures
}

// panel is one drawing with a scale of its own.
type panel struct {
	Title  string
	Height int
	Grid   []gridLine
	Lines  []chartLine
	least  float64 // span of the scale, so that a steady room looks steady
	share  bool    // of a hundred: the scale ends there
}

type gridLine struct{ Y, Text string }

// chartLine is one series. Style names its colour and its dashes.
type chartLine struct{ Name, Style, Path string }

// chartRow is one line of the table that says what the chart draws.
type chartRow struct {
	At, Air, DewPoint, Humidity string
	Surfaces                    []string
}

// series is one line before it is drawn. A value is NaN where nothing was
// measured.
type series struct {
	name, style string
	values      []float64
}

const maxSurfaceStyles = 3

func (w words) chart(points []Point, from, to time.Time) *chartView {
	if len(points) == 0 {
		return nil
	}
	a := axis{from: from, to: to, now: to, location: w.location}
	names := surfaceNames(points)
	temperatures := w.temperatureSeries(points, names)
	humidity := []series{{"relative humidity", "rh", values(points, func(p Point) *float64 { return (*float64)(p.Humidity) })}}
	v := &chartView{Ticks: a.ticks(), Names: names, Unit: w.temperatureUnit(), Rows: w.chartRows(a, points, names)}
	v.Panels = []panel{
		drawPanel(a, points, temperatures, panel{Title: "Temperature, " + w.temperatureUnit(), Height: 240, least: 6}),
		drawPanel(a, points, humidity, panel{Title: "Relative humidity, %", Height: 130, least: 20, share: true}),
	}
	return v
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
	if p.share {
		low, high = max(low, 0), min(high, 100)
	}
	y := scale{low: low, high: high, height: float64(p.Height), pad: 10}
	for v := low; v <= high+step/2; v += step {
		p.Grid = append(p.Grid, gridLine{Y: px(y.y(v)), Text: number(v, 0)})
	}
	for _, s := range all {
		p.Lines = append(p.Lines, chartLine{Name: s.name, Style: s.style, Path: seriesPath(a, points, s.values, y)})
	}
	return p
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
	step = 1
	for _, s := range []float64{2, 5, 10, 20, 50, 100} {
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

// chartRows are the points nearest after each of some equal steps of time.
func (w words) chartRows(a axis, points []Point, names []string) []chartRow {
	apart := a.to.Sub(a.from) / maxRows
	var rows []chartRow
	var next time.Time
	for _, p := range points {
		if p.At.Before(next) {
			continue
		}
		next = p.At.Add(apart)
		row := chartRow{At: p.At.In(w.location).Format("Mon 15:04"), Air: w.optional(p.Air), DewPoint: w.optional(p.DewPoint), Humidity: "–"}
		if p.Humidity != nil {
			row.Humidity = percent(*p.Humidity)
		}
		for _, name := range names {
			text := "–"
			if c, ok := p.Surfaces[name]; ok {
				text = w.temperature(c)
			}
			row.Surfaces = append(row.Surfaces, text)
		}
		rows = append(rows, row)
	}
	return rows
}

func (w words) optional(c *sensors.Celsius) string {
	if c == nil {
		return "–"
	}
	return w.temperature(*c)
}
