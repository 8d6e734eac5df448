package document

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"

	"recoat/drying"
	"recoat/internal/audit"
)

//go:embed record.html
var recordPage string

//go:embed record.css
var recordStyle string

//go:embed record.js
var recordScript string

// pageData is what the template shows.
type pageData struct {
	Title    string
	Made     string
	Digest   string
	Style    template.CSS
	Script   template.JS
	Sections []Section
	Charts   []chartData
	JSON     template.JS // the document itself, for recoat verify
}

// Section is a part of a document for a page: all of its text, and a drawing.
type Section struct {
	Title, ID string
	Level     int
	Sum       string // its main figures in a sentence; empty: it is not to be folded
	Lead      []string
	Tables    []Table
	Plot      template.HTML
	Chart     int // 0: none; else the number of the chart, from 1
	Photo     template.URL
}

// Table is rows under names of columns; pairs have none.
type Table struct {
	Title string
	Head  []string
	Rows  [][]string
	Pairs bool
}

// chartData is what the interactive chart draws: columns, decimated so that no
// extreme is lost. A null is a gap.
type chartData struct {
	At       []int64    `json:"at"` // seconds since 1970
	Air      []*float64 `json:"air"`
	Surface  []*float64 `json:"surface"`
	Dew      []*float64 `json:"dew"`
	Humidity []*float64 `json:"rh"`
	From     int64      `json:"from"` // the night
	To       int64      `json:"to"`
	Zone     int        `json:"zone"` // seconds east
}

// HTML writes a document as one file that asks nobody for anything.
func HTML(out io.Writer, d audit.Document, evidence []*audit.Evidence, photos Photos) error {
	page, err := template.New("record").Parse(recordPage)
	if err != nil {
		return fmt.Errorf("the page of the record: %w", err)
	}
	text, err := json.Marshal(d)
	if err != nil {
		return fmt.Errorf("write the HTML: %w", err)
	}
	w := newWriter(d)
	// json.Marshal spells <, > and & by number, so no name can end the script.
	data := pageData{Title: d.Title, Made: w.at(d.Made), Digest: d.Digest.String(), Style: template.CSS(recordStyle), Script: template.JS(recordScript), JSON: template.JS(text)}
	for i, s := range w.sections() {
		data.Sections = append(data.Sections, w.pageSection(&data, s, i, evidence, photos))
	}
	var b bytes.Buffer
	if err := page.Execute(&b, data); err != nil {
		return fmt.Errorf("write the HTML: %w", err)
	}
	_, err = out.Write(b.Bytes())
	return err
}

func (w writer) pageSection(data *pageData, s section, i int, evidence []*audit.Evidence, photos Photos) Section {
	p := Section{Title: s.title, ID: fmt.Sprintf("s%d", i), Level: s.level, Sum: s.sum, Lead: s.lead}
	for _, t := range s.tables {
		p.Tables = append(p.Tables, Table{t.title, t.head, t.rows, len(t.head) == 0})
	}
	if s.plot != nil {
		var samples []drying.Sample
		if s.plot.coat < len(evidence) {
			samples = evidence[s.plot.coat].Samples
		}
		r := &w.d.Coats[s.plot.coat]
		n := nightOf(r, samples, w.zone)
		p.Plot = template.HTML(n.svg("Temperatures, dew margin and humidity of the night, with limits, stages and alerts; the tables below hold the figures"))
		data.Charts = append(data.Charts, w.chart(whole(r, samples, w.zone), n))
		p.Chart = len(data.Charts)
	}
	if image := usable(photos, s.photo); image != nil {
		p.Photo = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(image))
	}
	return p
}

// Sections are the parts of a document for a page that has a style of its own.
func Sections(d audit.Document, evidence []*audit.Evidence) []Section {
	w := newWriter(d)
	var all []Section
	for i, s := range w.sections() {
		all = append(all, w.pageSection(&pageData{}, s, i, evidence, nil))
	}
	return all
}

// chartColumns is how many columns of points an interactive chart holds.
const chartColumns = 1500

func (w writer) chart(all, n night) chartData {
	s := seriesOf(all.samples, all.from, all.to)
	_, zone := n.from.In(w.zone).Zone()
	c := chartData{From: n.from.Unix(), To: n.to.Unix(), Zone: zone, At: []int64{}}
	// One set of instants serves all curves: those that any of them needs.
	keep := map[int64]bool{}
	for _, list := range [][]point{s.air, s.surface, s.dew, s.humidity} {
		for _, p := range decimate(list, all.from, all.to, chartColumns/4) {
			keep[p.at.UnixNano()] = true
		}
	}
	for i, p := range s.air {
		if !keep[p.at.UnixNano()] {
			continue
		}
		c.At = append(c.At, p.at.Unix())
		c.Air, c.Surface = append(c.Air, shown(p.value)), append(c.Surface, shown(s.surface[i].value))
		c.Dew, c.Humidity = append(c.Dew, shown(s.dew[i].value)), append(c.Humidity, shown(s.humidity[i].value))
	}
	return c
}

func shown(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	v = math.Round(v*100) / 100
	return &v
}
