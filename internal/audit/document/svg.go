package document

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

// svgPen draws into an SVG. Its greys follow the page's colours.
type svgPen struct{ b *strings.Builder }

func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// ink is a class for a grey, so that dark pages can turn it around.
func ink(grey float64) string {
	switch {
	case grey < 0.2:
		return "k0"
	case grey < 0.5:
		return "k1"
	case grey < 0.8:
		return "k2"
	case grey < 0.9:
		return "k3"
	}
	return "k4"
}

func (s svgPen) line(xy [][2]float64, width float64, dash []float64, grey float64) {
	s.b.WriteString(`<polyline class="` + ink(grey) + `" stroke-width="` + coordinate(width) + `"`)
	if len(dash) > 0 {
		var parts []string
		for _, d := range dash {
			parts = append(parts, coordinate(d))
		}
		s.b.WriteString(` stroke-dasharray="` + strings.Join(parts, " ") + `"`)
	}
	s.b.WriteString(` points="`)
	for i, q := range xy {
		if i > 0 {
			s.b.WriteByte(' ')
		}
		s.b.WriteString(coordinate(q[0]) + "," + coordinate(q[1]))
	}
	s.b.WriteString(`"/>` + "\n")
}

func (s svgPen) fill(x, y, w, h, grey float64) {
	fmt.Fprintf(s.b, `<rect class="f %s" x="%s" y="%s" width="%s" height="%s"/>`+"\n", ink(grey), coordinate(x), coordinate(y), coordinate(w), coordinate(max(h, 0)))
}

func (s svgPen) text(x, y float64, words string, size float64, anchor string) {
	// The size is a class, for a page whose own style would outrank an attribute.
	fmt.Fprintf(s.b, `<text class="t%.0f" x="%s" y="%s" text-anchor="%s">%s</text>`+"\n", 10*size, coordinate(x), coordinate(y), anchor, html.EscapeString(words))
}

// drawn is a drawing as an SVG.
func (n night) svg(label string) string {
	var b strings.Builder
	h := n.draw(svgPen{&b}, 0, 0, 190)
	return fmt.Sprintf(`<svg class="night" viewBox="0 0 190 %s" role="img" aria-label="%s">`+"\n", coordinate(h), html.EscapeString(label)) + b.String() + "</svg>"
}
