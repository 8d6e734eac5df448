package dashboards

import (
	"bytes"
	"embed"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"recoat/internal/room"
)

//go:embed templates
var templateFiles embed.FS

// page is what every page has, and the view that is its body.
type page struct {
	Title   string
	Section string // title of the place in the navigation it belongs to
	Rooms   []roomLink
	Version string
	Journal string // number of the journal's newest change; empty: the page shows none of it
	Now     time.Time
	Said    string // what came of the form just sent
	Notices []string
	Undo    string // where that is taken back; empty: it is not
	Body    any
	Bare    bool // without head and foot, for a wall

	Simulated bool // nothing shown is real
	Helps     bool // a helper looks: what is the owner's to change is not offered

	server *server
}

// Zone is by how many seconds the shop's clock is ahead of UTC.
func (p page) Zone() int {
	_, offset := p.Now.In(p.server.words.location).Zone()
	return offset
}

// Twelve and Fahrenheit are how scripts are to write times and differences.
func (p page) Twelve() bool     { return p.server.words.twelve }
func (p page) Fahrenheit() bool { return p.server.words.fahrenheit }

type roomLink struct{ ID, Title string }

// parsePages parses one template set per page: each file of the templates
// folder is a page by its own name, what is below shared/ belongs to all. Parsing
// cannot fail but by a fault in the binary.
func parsePages(a *assets) map[string]*template.Template {
	pages := map[string]*template.Template{}
	base := template.Must(template.New("layout.html").Funcs(template.FuncMap{
		"asset":  a.address,
		"linked": asLinked,
		"num":    func(text, from string) num { return num{text, from} },
		"iso":    func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
	}).ParseFS(templateFiles, "templates/shared/*.html"))
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		panic("dashboards: embedded templates: " + err.Error()) // the pattern is wrong
	}
	for _, file := range files {
		t := template.Must(base.Clone())
		pages[strings.TrimSuffix(path.Base(file), ".html")] = template.Must(t.ParseFS(templateFiles, file))
	}
	return pages
}

// page fills in what every page has. A page that belongs to another place of the
// navigation than its title says sets its Section.
func (s *server) page(title string, snapshots []room.Snapshot, now time.Time) page {
	p := page{Title: title, Section: title, Now: now, Version: version(snapshots), Simulated: s.simulated, server: s}
	if s.notices != nil {
		p.Notices = s.notices()
	}
	for _, r := range snapshots {
		p.Rooms = append(p.Rooms, roomLink{ID: r.Room, Title: roomTitle(r)})
	}
	return p
}

func roomTitle(s room.Snapshot) string {
	if s.Title != "" {
		return s.Title
	}
	return s.Room
}

// rendered is a whole answer, plain and, where many ask for it, packed; plain is
// nil where it could not be made.
type rendered struct{ plain, zipped []byte }

func (s *server) rendered(name string, p page) rendered {
	var body bytes.Buffer
	if err := s.pages[name].Execute(&body, p); err != nil {
		s.log.Error("render page", "page", name, "err", err)
		return rendered{}
	}
	return rendered{plain: body.Bytes()}
}

// render writes a whole page or, when the template fails, a plain error.
func (s *server) render(w http.ResponseWriter, status int, name string, p page) {
	s.write(w, status, s.rendered(name, p))
}

func (s *server) write(w http.ResponseWriter, status int, r rendered) {
	if r.plain == nil {
		http.Error(w, "This page could not be made. The log says why.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	sendPacked(w, status, r)
}

// message is a page of one sentence, and what to do.
type message struct{ Headline, Text string }

func (s *server) say(w http.ResponseWriter, status int, m message) {
	p := s.page(m.Headline, s.house.Snapshots(), s.now())
	p.Body = m
	s.render(w, status, "message", p)
}

func (s *server) notFound(w http.ResponseWriter, _ *http.Request) {
	s.say(w, http.StatusNotFound, message{"Nothing is here", "The address is not one of ours. Go to Tonight, which leads to every room."})
}
