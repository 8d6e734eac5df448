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

	name   string // of the file that it is made from
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

// parsePages parses every page into one template set, so that what is below
// shared/ is held once: each file of the templates folder is a page by its own
// name, and its head and body become NAME/head and NAME/body, which the layout asks
// for by page.Part. Parsing cannot fail but by a fault in the binary.
func parsePages(a *assets) *template.Template {
	funcs := template.FuncMap{
		"asset":  a.address,
		"linked": asLinked,
		"num":    func(text, from string) num { return num{text, from} },
		"iso":    func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
	}
	set := template.Must(template.New("layout.html").Funcs(funcs).ParseFS(templateFiles, "templates/shared/*.html"))
	files, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		panic("dashboards: embedded templates: " + err.Error()) // the pattern is wrong
	}
	for _, file := range files {
		page := strings.TrimSuffix(path.Base(file), ".html")
		for _, t := range template.Must(template.New(path.Base(file)).Funcs(funcs).ParseFS(templateFiles, file)).Templates() {
			name := t.Name()
			switch {
			case name == "head" || name == "body":
				name = page + "/" + name
			case set.Lookup(name) != nil:
				panic("dashboards: embedded templates: " + file + " defines " + name + " a second time")
			}
			template.Must(set.AddParseTree(name, t.Tree))
		}
	}
	return set
}

// Part is the head or the body of the page, for the layout; empty where it has
// none.
func (p page) Part(of string) (template.HTML, error) {
	name := p.name + "/" + of
	if p.server.pages.Lookup(name) == nil {
		return "", nil
	}
	var out strings.Builder
	err := p.server.pages.ExecuteTemplate(&out, name, p)
	return template.HTML(out.String()), err
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
	p.name, p.server = name, s
	if err := s.pages.Execute(&body, p); err != nil {
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
