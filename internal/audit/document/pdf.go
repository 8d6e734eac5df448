package document

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"codeberg.org/go-pdf/fpdf"

	"recoat/drying"
	"recoat/internal/audit"
)

// Paper is the size of a page.
type Paper string

// The sizes.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// margin is the white around a page, and lineHeight the distance of lines, mm.
const (
	margin     = 15.0
	lineHeight = 3.7
	bodySize   = 7.6 // points
)

// drawingRoom is what a drawing takes with the line above it, mm.
const drawingRoom = 122

// Photos gives the photo of a defect by its SHA-256: a JPEG or PNG, nil for none.
type Photos func(sha256 string) []byte

// PDF writes a document with one or more coats. Evidence has the samples of each
// coat, in the same order.
func PDF(out io.Writer, d audit.Document, evidence []*audit.Evidence, paper Paper, photos Photos) error {
	p := newPrinter(d, paper)
	p.evidence, p.photos = evidence, photos
	for _, s := range p.writer.sections() {
		p.section(s)
	}
	if err := p.pdf.Output(out); err != nil {
		return fmt.Errorf("write the PDF: %w", err)
	}
	return nil
}

// printer lays sections out on pages.
type printer struct {
	pdf      *fpdf.Fpdf
	writer   writer
	signs    *signs
	evidence []*audit.Evidence
	photos   Photos
	width    float64 // of the text
	bottom   float64
	drawn    int
}

func newPrinter(d audit.Document, paper Paper) *printer {
	pdf := fpdf.New("P", "mm", string(paper), "")
	p := &printer{pdf: pdf, writer: newWriter(d)}
	plain, bold := letters()
	pdf.AddUTF8FontFromBytes("body", "", plain)
	pdf.AddUTF8FontFromBytes("body", "B", bold)
	p.signs = signsOf(plain)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(d.Made)
	pdf.SetModificationDate(d.Made)
	pdf.SetTitle(p.clean(d.Title), true)
	pdf.SetLang("en-GB")
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(false, margin)
	w, h := pdf.GetPageSize()
	p.width, p.bottom = w-2*margin, h-margin-6
	pdf.AliasNbPages("{pages}")
	pdf.SetFooterFunc(func() {
		pdf.SetY(h - margin)
		pdf.SetFont("body", "", 6.5)
		pdf.SetTextColor(0, 0, 0)
		text := fmt.Sprintf("%s, made %s, SHA-256 %s …, page %d of {pages}", p.clean(clip(d.Title, 60)), p.writer.at(d.Made), d.Digest.String()[:16], pdf.PageNo())
		pdf.CellFormat(p.width, 4, text, "", 0, "L", false, 0, "")
	})
	pdf.AddPage()
	return p
}

// clip shortens a text.
func clip(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// clean makes text fit to print: what the font has no sign for, or what steers
// other text, is spelt by its number.
func (p *printer) clean(s string) string {
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "\ufffd") {
		switch {
		case r == '\n':
			b.WriteByte(' ')
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r > 0xffff || !p.signs.has(uint16(r)):
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func (p *printer) section(s section) {
	size := 10.5
	if s.level == 1 {
		size = 14
		if p.drawn > 0 {
			p.pdf.AddPage()
		}
	}
	p.drawn++
	if p.room(18); s.plot != nil {
		p.room(drawingRoom + 8)
	}
	p.pdf.Ln(2.5)
	p.paragraph(s.title, "B", size, size*0.47)
	for _, text := range s.lead {
		p.paragraph(text, "", bodySize+0.6, lineHeight+0.3)
		p.pdf.Ln(0.8)
	}
	if s.plot != nil {
		p.plot(*s.plot)
	}
	if s.photo != "" {
		p.photo(s.photo)
	}
	for _, t := range s.tables {
		p.table(t)
	}
}

// room turns the page if less than h is left of it.
func (p *printer) room(h float64) {
	if p.pdf.GetY()+h > p.bottom {
		p.pdf.AddPage()
	}
}

func (p *printer) paragraph(text, style string, size, line float64) {
	p.pdf.SetFont("body", style, size)
	p.pdf.SetTextColor(0, 0, 0)
	for _, l := range p.split(text, p.width) {
		p.room(line)
		p.pdf.SetX(margin)
		p.pdf.CellFormat(p.width, line, l, "", 1, "L", false, 0, "")
	}
}

// split breaks text into lines that fit a width in the current font.
func (p *printer) split(text string, width float64) []string {
	lines := p.pdf.SplitText(p.clean(text), width-2*p.pdf.GetCellMargin())
	if len(lines) == 0 {
		return []string{""}
	}
	return lines
}

func (p *printer) table(t table) {
	if t.title != "" {
		p.room(14)
		p.pdf.Ln(1.6)
		p.paragraph(t.title, "B", bodySize, lineHeight)
	}
	widths := t.widths
	if len(t.head) > 0 && len(t.rows) > 0 {
		p.row(t.head, widths, "B")
	}
	for _, r := range t.rows {
		p.row(r, widths, "")
	}
	p.pdf.Ln(1.2)
}

// row prints cells beside each other, over as many pages as they take.
func (p *printer) row(cells []string, widths []float64, style string) {
	p.pdf.SetFont("body", style, bodySize)
	p.pdf.SetTextColor(0, 0, 0)
	lines := make([][]string, len(cells))
	most := 0
	for i, c := range cells {
		if len(widths) == 2 && i == 0 {
			p.pdf.SetFont("body", "B", bodySize)
		}
		lines[i] = p.split(c, widths[i]*p.width)
		p.pdf.SetFont("body", style, bodySize)
		most = max(most, len(lines[i]))
	}
	if h := float64(most)*lineHeight + 1; h < (p.bottom-margin)/2 {
		p.room(h)
	}
	for n := range most {
		p.room(lineHeight)
		p.line(lines, widths, n, style)
	}
	y := p.pdf.GetY() + 0.4
	p.pdf.SetDrawColor(190, 190, 190)
	p.pdf.SetLineWidth(0.1)
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.Line(margin, y, margin+p.width, y)
	p.pdf.SetY(y + 0.5)
}

// line prints the n-th line of every cell of a row.
func (p *printer) line(lines [][]string, widths []float64, n int, style string) {
	x, y := margin, p.pdf.GetY()
	for i, cell := range lines {
		if n < len(cell) {
			s := style
			if len(widths) == 2 && i == 0 {
				s = "B"
			}
			p.pdf.SetFont("body", s, bodySize)
			p.pdf.SetXY(x, y)
			p.pdf.CellFormat(widths[i]*p.width, lineHeight, cell[n], "", 0, "L", false, 0, "")
		}
		x += widths[i] * p.width
	}
	p.pdf.SetXY(margin, y+lineHeight)
}

func (p *printer) plot(which plotted) {
	var samples []drying.Sample
	if which.coat < len(p.evidence) {
		samples = p.evidence[which.coat].Samples
	}
	r := &p.writer.d.Coats[which.coat]
	first := nightOf(r, samples, p.writer.zone)
	p.drawing(first, "The night")
	if all := whole(r, samples, p.writer.zone); all.to.Sub(all.from) > first.to.Sub(first.from)+12*time.Hour {
		p.drawing(all, "The whole time")
	}
}

func (p *printer) drawing(n night, title string) {
	p.room(drawingRoom)
	p.paragraph(title+": "+p.writer.at(n.from)+" to "+p.writer.at(n.to), "", bodySize, lineHeight)
	y := p.pdf.GetY() + 4
	h := n.draw(paperPen{p}, margin, y, p.width)
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.SetXY(margin, y+h+2)
}

// photo prints a photo that can be read; one that cannot is said to be so.
func (p *printer) photo(sum string) {
	image := usable(p.photos, sum)
	if image == nil {
		p.paragraph("The photo itself is not at hand.", "", bodySize, lineHeight)
		return
	}
	info := p.pdf.RegisterImageOptionsReader(sum, fpdf.ImageOptions{ImageType: "jpeg"}, bytes.NewReader(image))
	if p.pdf.Err() || info == nil {
		p.pdf.ClearError()
		p.paragraph("The photo cannot be printed.", "", bodySize, lineHeight)
		return
	}
	w := min(90.0, p.width)
	h := w * info.Height() / info.Width()
	if h > 90 {
		w, h = w*90/h, 90
	}
	p.room(h + 3)
	p.pdf.ImageOptions(sum, margin, p.pdf.GetY()+1, w, h, false, fpdf.ImageOptions{ImageType: "jpeg"}, 0, "")
	p.pdf.SetY(p.pdf.GetY() + h + 3)
}

// paperPen draws on the page.
type paperPen struct{ p *printer }

func (d paperPen) line(xy [][2]float64, width float64, dash []float64, grey float64) {
	pdf, g := d.p.pdf, int(grey*255)
	pdf.SetLineWidth(width)
	pdf.SetDrawColor(g, g, g)
	pdf.SetDashPattern(dash, 0)
	pdf.SetLineJoinStyle("round")
	pdf.MoveTo(xy[0][0], xy[0][1])
	for _, q := range xy[1:] {
		pdf.LineTo(q[0], q[1])
	}
	if len(xy) == 1 {
		pdf.LineTo(xy[0][0]+0.1, xy[0][1])
	}
	pdf.DrawPath("D")
}

func (d paperPen) fill(x, y, w, h, grey float64) {
	g := int(grey * 255)
	d.p.pdf.SetFillColor(g, g, g)
	d.p.pdf.Rect(x, y, w, h, "F")
}

func (d paperPen) text(x, y float64, s string, size float64, anchor string) {
	pdf := d.p.pdf
	pdf.SetFont("body", "", size*2.835)
	pdf.SetTextColor(0, 0, 0)
	s = d.p.clean(s)
	switch w := pdf.GetStringWidth(s); anchor {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	pdf.Text(x, y, s)
}
