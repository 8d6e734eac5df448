package document

import (
	"fmt"
	"math"
	"time"

	"recoat/drying"
	"recoat/internal/audit"
)

// pen draws on paper, or into an SVG. Lengths are millimetres, y grows downwards.
type pen interface {
	line(xy [][2]float64, width float64, dash []float64, grey float64)
	fill(x, y, w, h float64, grey float64)
	text(x, y float64, s string, size float64, anchor string) // "start", "middle", "end"
}

// frame is one panel: where it is, and what its axes span.
type frame struct {
	x, y, w, h float64
	from, to   time.Time
	low, high  float64
}

func (f frame) px(t time.Time) float64 {
	return f.x + f.w*float64(t.Sub(f.from))/float64(f.to.Sub(f.from))
}
func (f frame) py(v float64) float64 { return f.y + f.h*(f.high-v)/(f.high-f.low) }

// night is the drawing of one coat: temperatures, dew margin and humidity with
// their limits, stages, touch tests, alerts and gaps.
type night struct {
	record   *audit.Record
	samples  []drying.Sample
	zone     *time.Location
	from, to time.Time
}

// nightOf spans from two hours before the coat until it was dry to recoat and a
// while more, at least through the night, at most two days.
func nightOf(r *audit.Record, samples []drying.Sample, zone *time.Location) night {
	on := r.Coat.Applied
	end := on.Add(16 * time.Hour)
	for _, x := range r.Stages {
		if x.Stage == drying.DryToRecoat.String() && x.Likely != nil && x.Likely.Add(2*time.Hour).After(end) {
			end = x.Likely.Add(2 * time.Hour)
		}
	}
	if most := on.Add(48 * time.Hour); end.After(most) {
		end = most
	}
	return night{r, samples, zone, on.Add(-2 * time.Hour), end}
}

// whole spans everything that was measured.
func whole(r *audit.Record, samples []drying.Sample, zone *time.Location) night {
	n := night{r, samples, zone, r.Coat.Applied.Add(-2 * time.Hour), r.Coat.Applied.Add(16 * time.Hour)}
	if k := len(samples); k > 0 && samples[k-1].At.After(n.to) {
		n.to = samples[k-1].At
	}
	return n
}

// columns is how many columns of points a drawing has: four to a millimetre is
// finer than a printer's line.
const columns = 700

const (
	panelGap = 6
	axisRoom = 9 // for numbers on the left
	nameRoom = 24
	headRoom = 15 // for the names of events
)

// draw draws into a space of width w, and returns the height it took.
func (n night) draw(p pen, x, y, w float64) float64 {
	s := seriesOf(n.samples, n.from, n.to)
	top := y + headRoom
	var frames []frame
	heights := []float64{38, 25, 20}
	panels := []func(pen, frame, series){n.temperatures, n.margins, n.humidities}
	for i, panel := range panels {
		f := frame{x: x + axisRoom, y: top, w: w - axisRoom - nameRoom, h: heights[i], from: n.from, to: n.to}
		panel(p, f, s)
		frames = append(frames, f)
		top += heights[i] + panelGap
	}
	n.hours(p, frames[len(frames)-1])
	n.events(p, frames)
	return top + 4 - y
}

// tag is a name that stands at the end of a curve.
type tag struct {
	name string
	y    float64
}

func (n night) temperatures(p pen, f frame, s series) {
	limit, has := n.limit("limits.film_forms_above")
	if !has {
		limit, has = n.limit("limits.air_min")
	}
	f.low, f.high = scale(5, n.thin(s.air), n.thin(s.surface), n.thin(s.dew))
	if has && limit > f.low-8 {
		f.low = min(f.low, math.Floor(limit-1))
	}
	n.axes(p, f, "Temperature, °C", "air thin, surface thick, dew point dashed")
	if has {
		n.limitLine(p, f, limit, "least for the film")
	}
	var tags []tag
	for _, c := range []curve{{"air", s.air, nil, 0.25}, {"surface", s.surface, nil, 0.6}, {"dew point", s.dew, []float64{1.6, 0.9}, 0.3}} {
		tags = append(tags, n.curve(p, f, c)...)
	}
	name(p, f, tags)
}

func (n night) margins(p pen, f frame, s series) {
	limit, _ := n.limit("limits.dew_margin_min")
	f.low, f.high = scale(2, n.thin(s.margin), []point{{n.from, limit}, {n.from, 0}})
	n.axes(p, f, "Dew margin, K", "surface above the dew point; grey: twice its standard uncertainty")
	if !s.probe {
		p.text(f.x+f.w/2, f.y+f.h/2, "no probe was on the piece: the air cannot stand in for it", 2.6, "middle")
		return
	}
	n.band(p, f, s)
	n.limitLine(p, f, limit, "least")
	p.line([][2]float64{{f.x, f.py(0)}, {f.x + f.w, f.py(0)}}, 0.2, nil, 0)
	name(p, f, n.curve(p, f, curve{"dew margin", s.margin, nil, 0.5}))
}

// band is the uncertainty of the least margin of the coat's first window that
// has one, drawn along the curve.
func (n night) band(p pen, f frame, s series) {
	u := 0.0
	for _, w := range n.record.Windows {
		if w.MarginU != nil {
			u = max(u, float64(*w.MarginU))
		}
	}
	for _, q := range n.thin(s.margin) {
		if !math.IsNaN(q.value) {
			high, low := f.py(min(q.value+u, f.high)), f.py(max(q.value-u, f.low))
			p.fill(f.px(q.at)-f.w/columns/2, high, f.w/columns*1.3, low-high, 0.88)
		}
	}
}

func (n night) humidities(p pen, f frame, s series) {
	limit, _ := n.limit("limits.rh_max")
	f.low, f.high = scale(10, n.thin(s.humidity), []point{{n.from, limit}})
	f.high = min(f.high, 100)
	n.axes(p, f, "Relative humidity, %", "")
	n.limitLine(p, f, limit, "most")
	name(p, f, n.curve(p, f, curve{"humidity", s.humidity, nil, 0.4}))
}

func (n night) thin(points []point) []point { return decimate(points, n.from, n.to, columns) }

func (n night) limit(key string) (float64, bool) {
	for _, l := range n.record.Label.Limits {
		if l.Key == key {
			return float64(l.Limit), true
		}
	}
	return 0, false
}

// scale is a span around all values, in whole steps.
func scale(step float64, curves ...[]point) (low, high float64) {
	low, high, ok := bounds(curves...)
	if !ok {
		return 0, step
	}
	low, high = step*math.Floor((low-step/10)/step), step*math.Ceil((high+step/10)/step)
	return low, high
}

func (n night) curve(p pen, f frame, c curve) []tag {
	var run [][2]float64
	last := math.NaN()
	flush := func() {
		if len(run) > 0 {
			p.line(run, c.width, c.dash, 0)
		}
		run = nil
	}
	for _, q := range n.thin(c.points) {
		if math.IsNaN(q.value) {
			flush()
			continue
		}
		run, last = append(run, [2]float64{f.px(q.at), f.py(q.value)}), q.value
	}
	flush()
	if math.IsNaN(last) {
		return nil
	}
	return []tag{{c.name, f.py(last)}}
}

// name writes the names of curves at their ends, apart from each other.
func name(p pen, f frame, tags []tag) {
	const apart = 3
	for i := range tags {
		for k := range i {
			if d := tags[i].y - tags[k].y; math.Abs(d) < apart {
				tags[i].y = tags[k].y + math.Copysign(apart, d)
			}
		}
		p.text(f.x+f.w+1.2, tags[i].y+0.9, tags[i].name, 2.5, "start")
	}
}

func (n night) limitLine(p pen, f frame, v float64, word string) {
	y := f.py(v)
	if y < f.y || y > f.y+f.h {
		return
	}
	p.line([][2]float64{{f.x, y}, {f.x + f.w, y}}, 0.3, []float64{0.5, 0.7}, 0.25)
	p.text(f.x+0.8, y-0.7, fmt.Sprintf("%s: %s", word, audit.Figure(v)), 2.3, "start")
}

// axes draws a panel's frame, its name, and lines at round values.
func (n night) axes(p pen, f frame, title, words string) {
	p.text(f.x, f.y-1.2, title, 2.8, "start")
	if words != "" {
		p.text(f.x+f.w, f.y-1.2, words, 2.2, "end")
	}
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 20, 50} {
		if step = s; (f.high-f.low)/s*4.5 <= f.h {
			break
		}
	}
	for v := step * math.Ceil(f.low/step); v <= f.high+1e-9; v += step {
		p.line([][2]float64{{f.x, f.py(v)}, {f.x + f.w, f.py(v)}}, 0.1, nil, 0.75)
		p.text(f.x-1, f.py(v)+0.9, audit.Figure(v).String(), 2.4, "end")
	}
	p.line([][2]float64{{f.x, f.y}, {f.x, f.y + f.h}, {f.x + f.w, f.y + f.h}}, 0.25, nil, 0)
}

// hours writes the clock under the lowest panel.
func (n night) hours(p pen, f frame) {
	span := f.to.Sub(f.from)
	step := 24 * 7 * time.Hour
	for _, s := range []time.Duration{time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour, 48 * time.Hour} {
		if float64(span/s)*13 <= f.w {
			step = s
			break
		}
	}
	form := "15:04"
	if step >= 24*time.Hour {
		form = "2 Jan"
	}
	_, offset := f.from.In(n.zone).Zone()
	shift := time.Duration(offset) * time.Second
	for t := f.from.Add(shift).Truncate(step).Add(-shift); !t.After(f.to); t = t.Add(step) {
		if t.Before(f.from) {
			continue
		}
		x := f.px(t)
		p.line([][2]float64{{x, f.y + f.h}, {x, f.y + f.h + 1}}, 0.2, nil, 0)
		p.text(x, f.y+f.h+3.6, t.In(n.zone).Format(form), 2.4, "middle")
	}
}
