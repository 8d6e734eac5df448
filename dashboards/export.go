package dashboards

import (
	"bytes"
	"encoding/csv"
	"html/template"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"recoat/internal/audit"
	"recoat/internal/room"
)

// exportView is a chart as a drawing of its own, for a file.
type exportView struct {
	Title    string
	From, To string
	Panels   []placedPanel
	Chart    *chartView
	Height   int
	HoursY   int
	Done     []placedLine
	Told     []placedTold
	Lane     *placedPanel // of the alerts; nil: none stood
}

// placedPanel is a panel at its height in the drawing.
type placedPanel struct {
	panel
	Y, TitleY int
}

type placedLine struct {
	doingView
	Y int
}

type placedTold struct {
	toldMark
	Y int
}

// The measures of a drawing, in pixels: above the first panel, above each for
// its title, for the hours, and for a line of what was done.
const (
	exportHead  = 70
	exportTitle = 34
	exportHours = 34
	exportLine  = 20
)

// exportTemplate is parsed apart from the pages: a drawing in a file has no
// style sheet, so that its colours stand in it.
func exportTemplate() *template.Template {
	return template.Must(template.New("history.svg").Funcs(template.FuncMap{
		"stroke": func(style string) string {
			return map[string]string{"air": "#2b2119", "dew": "#1d5a55", "rh": "#1d5a55"}[style]
		},
		"dash": func(style string) string {
			return map[string]string{"dew": "8 5", "surface-1": "2 4", "surface-2": "10 4 2 4", "surface-3": "14 4"}[style]
		},
		"add": func(a, b int) int { return a + b },
	}).ParseFS(templateFiles, "templates/export/history.svg"))
}

func (w words) export(s room.Snapshot, c charted) *exportView {
	chart := w.chart(c)
	if chart == nil {
		return nil
	}
	a := axis{from: c.window.from, to: c.window.to}
	v := &exportView{Title: roomTitle(s), From: w.dated(c.window.from, a), To: w.dated(c.window.to, a), Chart: chart}
	y := exportHead
	for _, p := range chart.Panels {
		v.Panels = append(v.Panels, placedPanel{panel: p, TitleY: y + 18, Y: y + exportTitle})
		y += exportTitle + p.Height
		if p.Near && chart.Lane > 0 {
			v.Lane = &placedPanel{panel: panel{Height: chart.Lane}, TitleY: y + 18, Y: y + exportTitle}
			y += exportTitle + chart.Lane
		}
	}
	v.HoursY = y
	y += exportHours
	for _, d := range chart.Done {
		v.Done = append(v.Done, placedLine{d, y + exportLine})
		y += exportLine
	}
	for _, m := range chart.Told {
		v.Told = append(v.Told, placedTold{m, y + exportLine})
		y += exportLine
	}
	v.Height = y + exportHours
	return v
}

// exported finds the room and reads the piece of its history that is asked for.
// It answers itself where that cannot be.
func (s *server) exported(w http.ResponseWriter, r *http.Request) (room.Snapshot, charted, bool) {
	snap, ok := find(s.house.Snapshots(), r.PathValue("id"))
	if !ok || s.history == nil {
		http.NotFound(w, r)
		return snap, charted{}, false
	}
	c, err := s.charted(r.Context(), snap, windowOf(r.URL.Query(), s.now()))
	if err != nil {
		s.log.Error("read history", "room", snap.Room, "err", err)
		http.Error(w, "The history cannot be read just now. The log says why.", http.StatusInternalServerError)
		return snap, c, false
	}
	return snap, c, true
}

func (s *server) exportSVG(w http.ResponseWriter, r *http.Request) {
	snap, c, ok := s.exported(w, r)
	if !ok {
		return
	}
	view := s.words.export(snap, c)
	if view == nil {
		http.Error(w, "Nothing was measured in these hours, so there is nothing to draw.", http.StatusNotFound)
		return
	}
	var body bytes.Buffer
	if err := s.drawing.Execute(&body, view); err != nil {
		s.log.Error("draw history", "room", snap.Room, "err", err)
		http.Error(w, "The drawing could not be made. The log says why.", http.StatusInternalServerError)
		return
	}
	asFile(w, "image/svg+xml", fileName(snap, c.window, "svg"))
	_, _ = w.Write(body.Bytes()) // the asker may be gone; nothing is left to do
}

func (s *server) exportCSV(w http.ResponseWriter, r *http.Request) {
	snap, c, ok := s.exported(w, r)
	if !ok {
		return
	}
	asFile(w, "text/csv; charset=utf-8", fileName(snap, c.window, "csv"))
	if err := writeCSV(w, c); err != nil {
		s.log.Debug("send history", "room", snap.Room, "err", err)
	}
}

func asFile(w http.ResponseWriter, kind, name string) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
}

// fileName holds nothing but letters, figures and hyphens: a room's identifier
// and two dates.
func fileName(s room.Snapshot, w window, kind string) string {
	return "room-" + s.Room + "-" + w.from.UTC().Format("20060102-1504") + "-" + w.to.UTC().Format("20060102-1504") + "." + kind
}

// writeCSV writes the points as a readings file that recoat reads again:
// surface_c is the coldest surface, and each has a column of its own after it.
// What was done, and the alerts that stood, up to the next row are in words at
// the end. Times are in UTC, temperatures in °C.
func writeCSV(to io.Writer, c charted) error {
	names, paces := surfaceNames(c.points), pacesOf(c.points, c.done)
	head := []string{"time", "air_c", "rh_pct", "dew_point_c", "wood_emc_pct", "surface_c"}
	for _, n := range names {
		head = append(head, "surface_c "+n)
	}
	for _, p := range paces {
		head = append(head, "pace "+p.name)
	}
	out := csv.NewWriter(to)
	if err := out.Write(append(head, "done", "alerts")); err != nil {
		return err
	}
	for i, p := range c.points {
		if p.empty() {
			continue // a gap
		}
		row := []string{p.At.UTC().Format(time.RFC3339), csvCell((*float64)(p.Air)), csvCell((*float64)(p.Humidity)), csvCell((*float64)(p.DewPoint)), csvCell(p.emc()), coldest(p)}
		for _, n := range names {
			if v, ok := p.Surfaces[n]; ok {
				row = append(row, csvCell((*float64)(&v)))
				continue
			}
			row = append(row, "")
		}
		for _, s := range paces {
			row = append(row, csvCell(finite(s.values[i])))
		}
		row = append(row, c.marksAt(i)...)
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// marksAt says what was done and which alerts stood from a point up to the next
// that was measured; what was done before the first counts with it.
func (c charted) marksAt(i int) []string {
	from, to := c.points[i].At, c.window.to.Add(1)
	if !slices.ContainsFunc(c.points[:i], func(p Point) bool { return !p.empty() }) {
		from = c.window.from
	}
	for _, p := range c.points[i+1:] {
		if !p.empty() {
			to = p.At
			break
		}
	}
	var done, told []string
	for _, d := range c.done {
		if !d.At.Before(from) && d.At.Before(to) {
			done = append(done, d.Text)
		}
	}
	for _, e := range c.told {
		if stoodIn(axis{from: from, to: to.Add(-1)}, e) {
			told = append(told, e.Title)
		}
	}
	return []string{audit.Cell(strings.Join(done, "; ")), audit.Cell(strings.Join(told, "; "))}
}

// empty reports whether nothing was measured.
func (p Point) empty() bool { return p.Air == nil && p.Humidity == nil && len(p.Surfaces) == 0 }

func coldest(p Point) string {
	least := math.NaN()
	for _, v := range p.Surfaces {
		if !(float64(v) >= least) {
			least = float64(v)
		}
	}
	return csvCell(finite(least))
}

// csvCell is a number to a thousandth, empty where there is none.
func csvCell(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(math.Round(*v*1000)/1000, 'f', -1, 64)
}
