package main

import (
	"fmt"
	"html"
	"slices"
	"strings"
)

// Measures, in the drawing's own units: about a third of a millimetre on A4.
const (
	width      = 1100
	top        = 112
	pinStep    = 21
	evenX      = 252 // of the outer row's holes
	oddX       = 226
	laneX      = 440 // of the first vertical run
	laneStep   = 13
	boxX       = 690
	farX       = 750
	boxWidth   = 330
	lineStep   = 18
	wireStep   = 24
	boxGap     = 22
	shownPins  = 20 // of each kind of pin: none of the builds uses one beyond 20
	noteHeight = 22
)

// drawing collects the elements of one build.
type drawing struct {
	strings.Builder
	lanes map[string]float64 // where each source's vertical run is
	ends  map[string]point   // where the terminals that others start from are
}

type point struct{ x, y float64 }

// svg is the whole drawing.
func (b Build) svg() string {
	d := &drawing{lanes: map[string]float64{}, ends: map[string]point{}}
	boxes, height := b.places()
	height = max(height, top+pinStep*shownPins/2+40)
	fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" font-family="sans-serif" font-size="15" fill="#222">`+"\n", width, height+noteHeight*len(b.notes())+24)
	fmt.Fprintf(d, `<title>%s</title>`+"\n<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n", html.EscapeString(b.Title))
	d.text(point{24, 42}, 22, "start", "bold", b.Title)
	d.header(b.used())
	for i, p := range b.Parts {
		d.part(p, boxes[i])
	}
	for i, n := range b.notes() {
		d.text(point{24, float64(height + noteHeight*(i+1))}, 15, "start", "normal", n)
	}
	return d.String() + "</svg>\n"
}

// notes stand below the drawing.
func (b Build) notes() []string {
	return append([]string{"A dot joins wires; where two only cross they are not joined. Switch the Pi off before you wire."}, b.Notes...)
}

// places says where the boxes stand, and how high the drawing is.
func (b Build) places() (tops []int, height int) {
	y := top - 22
	for _, p := range b.Parts {
		tops = append(tops, y)
		y += p.height() + boxGap
	}
	return tops, y
}

func (p Part) height() int {
	return 34 + lineStep*len(p.Lines) + wireStep*(len(p.Wires)+len(p.Outs)) + 8
}

// used are the pins and terminals that wires start from, in the order of the
// wires.
func (b Build) used() []string {
	var all []string
	for _, p := range b.Parts {
		for _, w := range p.Wires {
			if !slices.Contains(all, w.From) {
				all = append(all, w.From)
			}
		}
	}
	return all
}

func (d *drawing) text(at point, size int, anchor, weight, text string) {
	fmt.Fprintf(d, `<text x="%g" y="%g" font-size="%d" text-anchor="%s" font-weight="%s">%s</text>`+"\n", at.x, at.y, size, anchor, weight, html.EscapeString(text))
}

func (d *drawing) line(colour string, points ...point) {
	var path []string
	for _, p := range points {
		path = append(path, fmt.Sprintf("%g,%g", p.x, p.y))
	}
	fmt.Fprintf(d, `<polyline points="%s" fill="none" stroke="%s" stroke-width="2.5" stroke-linejoin="round"/>`+"\n", strings.Join(path, " "), colour)
}

// at is the hole of a pin.
func at(pin int) point {
	y := float64(top + pinStep*((pin-1)/2))
	if pin%2 == 1 {
		return point{oddX, y}
	}
	return point{evenX, y}
}

// header draws the first half of the header and gives each used pin a vertical
// run of its own. The pins that are used are filled, and named in bold.
func (d *drawing) header(used []string) {
	rows := shownPins / 2
	fmt.Fprintf(d, `<rect x="206" y="%d" width="66" height="%d" rx="6" fill="#f3efe6" stroke="#222"/>`+"\n", top-14, rows*pinStep+8)
	d.text(point{239, float64(top - 26)}, 14, "middle", "normal", "the Pi's 40 pins; the corner of the board is up here ↑")
	d.text(point{239, float64(top + rows*pinStep + 14)}, 14, "middle", "normal", "pins 21 to 40 stay free ↓")
	for pin := 1; pin <= shownPins; pin++ {
		d.pin(pin, slices.Contains(used, fmt.Sprintf("pin %d", pin)))
	}
	for i, name := range used {
		d.lanes[name] = float64(laneX + laneStep*i)
	}
}

func (d *drawing) pin(pin int, used bool) {
	p, fill, weight := at(pin), "#fff", "normal"
	if used {
		fill, weight = "#222", "bold"
	}
	fmt.Fprintf(d, `<circle cx="%g" cy="%g" r="6" fill="%s" stroke="#222"/>`+"\n", p.x, p.y, fill)
	if pin%2 == 1 {
		d.text(point{p.x - 28, p.y + 5}, 13, "end", weight, fmt.Sprintf("%s  ·  %d", header[pin-1], pin))
		return
	}
	d.text(point{p.x + 28, p.y + 5}, 13, "start", weight, fmt.Sprintf("%d  ·  %s", pin, header[pin-1]))
}

// part draws a box with its wires.
func (d *drawing) part(p Part, y int) {
	x := float64(boxX)
	if p.Far {
		x = farX
	}
	fmt.Fprintf(d, `<rect x="%g" y="%d" width="%d" height="%d" rx="8" fill="#f7f7f2" stroke="#222" stroke-width="1.5"/>`+"\n", x, y, boxWidth, p.height())
	d.text(point{x + 16, float64(y + 25)}, 17, "start", "bold", p.Title)
	row := float64(y + 34)
	for _, l := range p.Lines {
		row += lineStep
		d.text(point{x + 16, row - 3}, 14, "start", "normal", l)
	}
	for _, w := range p.Wires {
		row += wireStep
		d.wire(w, point{x, row - 6})
	}
	for _, out := range p.Outs {
		row += wireStep
		d.ends[p.Name+" "+out] = point{x, row - 6}
		d.text(point{x + 16, row - 1}, 15, "start", "bold", out)
		d.text(point{x + boxWidth - 14, row - 1}, 15, "end", "normal", "to the cable of port "+out[2:])
	}
}

// wire runs from its pin down that pin's own lane to the terminal, so that two
// wires of one pin share the lane, and a dot shows where they part.
func (d *drawing) wire(w Wire, end point) {
	from := d.source(w)
	lane := d.lanes[w.From]
	d.line(w.Colour, append(from, point{lane, from[len(from)-1].y}, point{lane, end.y}, end)...)
	fmt.Fprintf(d, `<circle cx="%g" cy="%g" r="3.5" fill="%s"/>`+"\n", lane, end.y, w.Colour)
	fmt.Fprintf(d, `<rect x="%g" y="%g" width="10" height="10" fill="%s"/>`+"\n", end.x-5, end.y-5, w.Colour)
	d.text(point{end.x + 16, end.y + 5}, 15, "start", "bold", w.Terminal)
	d.text(point{end.x + boxWidth - 14, end.y + 5}, 15, "end", "normal", "to "+w.origin())
}

// source is where a wire leaves: beside the name of its pin, or at the side of
// the part that it comes from.
func (d *drawing) source(w Wire) []point {
	var pin int
	if _, err := fmt.Sscanf(w.From, "pin %d", &pin); err != nil {
		return []point{d.ends[w.From]}
	}
	p := at(pin)
	if pin%2 == 1 { // under the outer row, between two of its pins
		return []point{p, {p.x, p.y + pinStep/2}}
	}
	return []point{{p.x + 108, p.y}}
}
