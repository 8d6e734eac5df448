package document

import (
	"strings"
	"time"

	"recoat/drying"
)

// events marks what happened in all panels: the coat, its stages, touch tests,
// alerts, and spans without readings.
func (n night) events(p pen, frames []frame) {
	for _, f := range frames {
		n.gaps(p, f)
	}
	m := marker{pen: p, frames: frames}
	m.mark(n.record.Coat.Applied, "put on", nil)
	for _, s := range n.record.Stages {
		if s.Likely != nil && s.Reached && marked[s.Stage] {
			m.mark(*s.Likely, strings.ReplaceAll(s.Stage, "-", " "), []float64{1, 1})
		}
	}
	last := frames[len(frames)-1]
	for _, t := range n.record.Touches {
		m.mark(t.At, "touch: "+t.Found, []float64{0.4, 1.2})
		n.touch(p, last, t.At)
	}
	for _, a := range n.record.Alerts {
		m.mark(a.Since, "alert", []float64{0.4, 1.2})
		n.flag(p, last, a.Since)
	}
}

// marked are the stages that a drawing shows; more would crowd it.
var marked = map[string]bool{
	drying.SetToTouch.String(): true, drying.TackFree.String(): true, drying.DryToRecoat.String(): true, drying.Handle.String(): true,
}

// marker draws upright lines through all panels, with a word over each; words
// that would overlap stand above each other.
type marker struct {
	pen    pen
	frames []frame
	ends   [5]float64 // of the last word on each height
}

func (m *marker) mark(at time.Time, word string, dash []float64) {
	top := m.frames[0]
	if at.Before(top.from) || at.After(top.to) {
		return
	}
	x := top.px(at)
	for _, f := range m.frames {
		m.pen.line([][2]float64{{x, f.y}, {x, f.y + f.h}}, 0.25, dash, 0.15)
	}
	row := 0
	for row < len(m.ends)-1 && x < m.ends[row] {
		row++
	}
	m.ends[row] = x + 1.5*float64(len(word))
	y := top.y - 4.8 - 2.6*float64(row)
	m.pen.line([][2]float64{{x, y + 0.6}, {x, top.y - 4.2}}, 0.1, nil, 0.4)
	m.pen.text(x, y, word, 2.3, "start")
}

// gaps hatches the spans of which nothing is known.
func (n night) gaps(p pen, f frame) {
	for _, w := range n.record.Windows {
		for _, g := range w.Gaps {
			from, to := later(g.From, n.from), earlier(g.To, n.to)
			if w.Name != "whole cure" || to.Sub(from) < time.Minute {
				continue
			}
			left, right := f.px(from), f.px(to)
			p.fill(left, f.y, right-left, f.h, 0.95)
			for x := left; x < right; x += 1.5 {
				p.line([][2]float64{{x, f.y}, {x, f.y + f.h}}, 0.08, nil, 0.7)
			}
			if right-left > 12 {
				p.text((left+right)/2, f.y+4, "no readings", 2.3, "middle")
			}
		}
	}
}

// touch draws a triangle on the lowest axis.
func (n night) touch(p pen, f frame, at time.Time) {
	if at.Before(n.from) || at.After(n.to) {
		return
	}
	x, y := f.px(at), f.y+f.h
	p.line([][2]float64{{x - 1.2, y}, {x, y - 2.4}, {x + 1.2, y}, {x - 1.2, y}}, 0.35, nil, 0)
}

// flag draws a flag on the lowest axis.
func (n night) flag(p pen, f frame, at time.Time) {
	if at.Before(n.from) || at.After(n.to) {
		return
	}
	x, y := f.px(at), f.y+f.h
	p.line([][2]float64{{x, y}, {x, y - 4}, {x + 2.2, y - 3}, {x, y - 2}}, 0.35, nil, 0)
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
