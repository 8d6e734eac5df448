package dashboards

import (
	"bytes"
	"context"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"recoat/internal/audit"
	"recoat/internal/audit/document"
	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

// Records make the record of a coat or, by a piece's id, that of all its coats,
// and take down defects.
type Records interface {
	// Sections are the record as a page shows it.
	Sections(ctx context.Context, id string) ([]document.Section, error)
	// Write writes it as a file: "pdf", "letter" (a PDF of that size), "html",
	// "csv" or "json".
	Write(ctx context.Context, w io.Writer, id, format string) error
	AddDefect(ctx context.Context, d DefectRequest) error
	// Compare lays coats beside each other; Uses are those of one product.
	Compare(ctx context.Context, coats []string) (audit.Comparison, error)
	Uses(ctx context.Context, product string) (audit.Comparison, error)
}

// DefectRequest is a defect that was seen now. Photo is nil for none.
type DefectRequest struct {
	Coat, Kind, Place, Note string
	Photo                   io.Reader
}

func (s *server) recordRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /coats/{id}/record", s.record)
	mux.HandleFunc("GET /coats/{id}/record/{format}", s.recordFile)
	mux.HandleFunc("GET /pieces/{id}/record", s.record)
	mux.HandleFunc("GET /pieces/{id}/record/{format}", s.recordFile)
	mux.HandleFunc("POST /coats/{id}/defects", s.addDefect)
	mux.HandleFunc("GET /compare", s.compare)
	mux.HandleFunc("GET /products/{id}/coats", s.uses)
}

type recordView struct {
	Coat     string // empty: it is the record of a piece
	At       string // address of the coat or the piece
	Sections []recordSection
	Kinds    []audit.Kind
	Wrong    string
}

// recordSection is a section with its tables under their titles.
type recordSection struct {
	document.Section
	Groups []tableGroup
}

// tableGroup is a table with those that belong to it.
type tableGroup struct {
	Title  string
	Tables []document.Table
	Fold   bool // it is one of several
}

// foldedFrom is from how many titled tables on each of a folded section is folded
// by itself.
const foldedFrom = 3

func recordSectionOf(s document.Section) recordSection {
	s.Sum, s.Lead = minus(s.Sum), mapped(s.Lead, minus)
	out := recordSection{Section: s}
	titled := 0
	for _, t := range s.Tables {
		t.Rows = mapped(t.Rows, func(row []string) []string { return mapped(row, minus) })
		if t.Title != "" {
			titled++
		}
		if t.Title != "" || len(out.Groups) == 0 || t.Pairs {
			out.Groups = append(out.Groups, tableGroup{Title: t.Title})
		}
		last := &out.Groups[len(out.Groups)-1]
		last.Tables = append(last.Tables, t)
	}
	for i := range out.Groups {
		g := &out.Groups[i]
		g.Fold = s.Sum != "" && titled >= foldedFrom && g.Title != "" && slices.ContainsFunc(g.Tables, func(t document.Table) bool { return len(t.Rows) > 0 })
	}
	return out
}

// below finds the hyphen of a number below nought, which no name and no zone of
// time begins.
var below = regexp.MustCompile(`(^|[ (±,])-([0-9]+(?:\.[0-9]+)?)($|[ ,;.)])`)

// minus puts the true minus sign before numbers, as every other page has it.
func minus(text string) string { return below.ReplaceAllString(text, "$1−$2$3") }

func (s *server) record(w http.ResponseWriter, r *http.Request) {
	s.showRecord(w, r, http.StatusOK, "")
}

func (s *server) showRecord(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	id := r.PathValue("id")
	sections, err := s.records.Sections(r.Context(), id)
	if err != nil {
		s.noRecord(w, r, err)
		return
	}
	view := recordView{Coat: id, At: "/coats/" + id, Sections: mapped(sections, recordSectionOf), Kinds: audit.Kinds(), Wrong: wrong}
	if ofPiece(r) {
		view.Coat, view.At = "", "/pieces/"+id
	}
	s.show(w, r, status, shown{"Record of " + id, "Pieces", "record", view})
}

func ofPiece(r *http.Request) bool { return strings.HasPrefix(r.URL.Path, "/pieces/") }

// noRecord says why there is none: a piece has one from its first coat on.
func (s *server) noRecord(w http.ResponseWriter, r *http.Request, err error) {
	if why, mine := inputFault(err); mine {
		s.say(w, http.StatusNotFound, message{"No record yet", sentence(why)})
		return
	}
	what := "coat"
	if ofPiece(r) {
		what = "piece"
	}
	s.missing(w, "make a record", what, err)
}

// mediaTypes are those of a record's formats.
var mediaTypes = map[string]string{
	"pdf": "application/pdf", "letter": "application/pdf", "html": "text/html; charset=utf-8", "csv": "text/csv; charset=utf-8", "json": "application/json",
}

// recordFile sends a record as a file. It is made whole first, so that a failure
// is no half of a document.
func (s *server) recordFile(w http.ResponseWriter, r *http.Request) {
	id, format := r.PathValue("id"), r.PathValue("format")
	media, known := mediaTypes[format]
	if !known {
		s.notFound(w, r)
		return
	}
	var b bytes.Buffer
	if err := s.records.Write(r.Context(), &b, id, format); err != nil {
		s.noRecord(w, r, err)
		return
	}
	ending := strings.Replace(format, "letter", "pdf", 1)
	w.Header().Set("Content-Type", media)
	w.Header().Set("Content-Disposition", `attachment; filename="record-`+id+"."+ending+`"`)
	_, _ = w.Write(b.Bytes()) // the asker may be gone; nothing is left to do
}

// mostUpload bounds a form with a photo.
const mostUpload = photo.MostBytes + 64<<10

func (s *server) addDefect(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostUpload)
	if err := r.ParseMultipartForm(1 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		s.showRecord(w, r, http.StatusUnprocessableEntity, "The form could not be read, or the photo is larger than 16 MiB: take a smaller one.")
		return
	}
	if r.MultipartForm != nil {
		defer func() { _ = r.MultipartForm.RemoveAll() }() // what is left is the system's to clear
	}
	d := DefectRequest{Coat: r.PathValue("id"), Kind: r.FormValue("kind"), Place: r.FormValue("place"), Note: r.FormValue("note")}
	if _, known := audit.FindKind(d.Kind); !known {
		s.showRecord(w, r, http.StatusUnprocessableEntity, "Choose what was seen.")
		return
	}
	file, _, err := r.FormFile("photo")
	if err == nil {
		defer func(f multipart.File) { _ = f.Close() }(file) // it was only read
		d.Photo = file
	}
	a := answers{r.PostForm, map[string]string{}}
	ctx, _ := s.tapped(r, a)
	if err := s.records.AddDefect(ctx, d); err != nil {
		var input *shop.InputError
		var refused *photo.RefusedError
		if errors.As(err, &input) || errors.As(err, &refused) {
			s.showRecord(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
			return
		}
		s.missing(w, "note a defect", "coat", err)
		return
	}
	http.Redirect(w, r, "/coats/"+d.Coat+"/record?noted=defect", http.StatusSeeOther)
}
