package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

func (s *server) pieceRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /pieces", s.pieceList)
	mux.HandleFunc("GET /pieces/new", s.pieceNew)
	mux.HandleFunc("POST /pieces", s.pieceAdd)
	mux.HandleFunc("GET /pieces/{id}", s.pieceShow)
	mux.HandleFunc("GET /pieces/{id}/edit", s.pieceEdit)
	mux.HandleFunc("POST /pieces/{id}", s.pieceChange)
	mux.HandleFunc("POST /pieces/{id}/copy", s.pieceCopy)
	mux.HandleFunc("POST /pieces/{id}/delivered", s.pieceDelivered)
}

// perPage is how many pieces a list shows at once.
const perPage = 50

// piecesView is the list of pieces.
type piecesView struct {
	Text     string
	Archived bool
	Pieces   []pieceLine
	Older    string // address of the next page; empty: there is none
}

type pieceLine struct{ ID, Name, Parts, State string }

func (s *server) pieceList(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	f := shop.PieceFilter{Text: q.Get("q"), Archived: q.Get("archived") != "", Before: q.Get("before"), Limit: perPage}
	pieces, err := s.book.Pieces.ListPieces(r.Context(), f)
	if why, mine := inputFault(err); mine {
		s.say(w, http.StatusUnprocessableEntity, message{"Not found", sentence(why)})
		return
	}
	if err != nil {
		s.cannotRead(w, "list the pieces", err)
		return
	}
	view := piecesView{Text: f.Text, Archived: f.Archived}
	for _, p := range pieces {
		view.Pieces = append(view.Pieces, s.words.pieceLine(p))
	}
	if len(pieces) == perPage {
		next := url.Values{"before": {pieces[perPage-1].ID}}
		if f.Text != "" {
			next.Set("q", f.Text)
		}
		if f.Archived {
			next.Set("archived", "1")
		}
		view.Older = "/pieces?" + next.Encode()
	}
	s.show(w, r, http.StatusOK, shown{"Pieces", "Pieces", "pieces", view})
}

func (w words) pieceLine(p shop.Piece) pieceLine {
	var names []string
	for _, part := range p.Parts {
		names = append(names, part.Name)
	}
	line := pieceLine{ID: p.ID, Name: p.Name, Parts: listWords(names), State: "since " + w.date(p.Added)}
	if !p.Delivered.IsZero() {
		line.State = "delivered " + w.date(p.Delivered)
	}
	return line
}

// partRows is how many parts the form for a new piece has room for.
const partRows = 6

// pieceFormView is a new piece to be filled in.
type pieceFormView struct {
	Name, Room, Template, Note, Client field
	Rows                               []partRow
	Wrong                              string
}

type partRow struct{ Name, Material, Thickness field }

func (s *server) pieceNew(w http.ResponseWriter, r *http.Request) {
	s.showPieceForm(w, r, http.StatusOK, blank())
}

func (s *server) showPieceForm(w http.ResponseWriter, r *http.Request, status int, a answers) {
	rooms, err := s.book.Parts.Rooms(r.Context())
	if err != nil {
		s.cannotRead(w, "list the rooms", err)
		return
	}
	if len(rooms) > 0 && !a.given.Has("room") {
		a.given.Set("room", rooms[0].ID)
	}
	view := pieceFormView{
		Wrong:    a.wrong[""],
		Name:     a.filled(field{Key: "name", Label: "What it is", Needed: true, Longest: shop.LongestName, Usual: "such as Linen press"}),
		Room:     a.filled(field{Key: "room", Label: "Room it dries in", Options: roomOptions(rooms)}),
		Template: a.filled(field{Key: "template", Label: "Finishing schedule", Hint: "The same for every part; you can change it for each later. Common practice: the label comes first.", Options: templateOptions()}),
		Note:     a.filled(noteField()),
		Client:   a.filled(clientField()),
	}
	for i := range partRows {
		n := fmt.Sprint(i + 1)
		row := partRow{
			Name:      field{Key: "part" + n, Label: "Part " + n, Longest: shop.LongestName, Usual: []string{"top", "carcass", "drawer fronts", "doors", "", ""}[i]},
			Material:  field{Key: "material" + n, Label: "Wood or board", Longest: shop.LongestName, Suggests: boards()},
			Thickness: field{Key: "thickness" + n, Label: "Thick", Mode: "decimal", Longest: 12, Units: thicknessUnits(s.words.fahrenheit)},
		}
		view.Rows = append(view.Rows, partRow{a.filled(row.Name), a.filled(row.Material), a.filled(row.Thickness)})
	}
	s.show(w, r, status, shown{"A new piece", "Pieces", "pieceform", view})
}

func noteField() field {
	return field{Key: "note", Label: "Note", Type: "area", Longest: shop.LongestNote}
}

func clientField() field {
	return field{Key: "client", Label: "For whom", Hint: "A client or buyer, for you alone: it stays on this machine and is on no card, message or report.", Type: "area", Longest: shop.LongestNote}
}

func templateOptions() []optionGroup {
	var all []option
	for _, t := range schedule.Templates() {
		all = append(all, option{t.ID, t.Name})
	}
	return []optionGroup{{Options: all}}
}

func (s *server) pieceAdd(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, 2*maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	p := a.piece()
	if !a.ok() {
		s.showPieceForm(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	ctx, _ := s.tapped(r, a)
	p, err = s.book.Pieces.AddPiece(ctx, p, s.now())
	if err == nil {
		err = s.begin(r.Context(), p, a.text("template"))
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
		s.showPieceForm(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	if err != nil {
		s.notTaken(w, "add a piece", err)
		return
	}
	http.Redirect(w, r, "/pieces/"+p.ID+"?noted=piece", http.StatusSeeOther)
}

// piece reads the form as a piece. What is wrong stands beside its field.
func (a answers) piece() shop.Piece {
	p := shop.Piece{Name: a.text("name"), Note: a.text("note"), Client: a.text("client")}
	if p.Name == "" {
		a.fail("name", "give it a name")
	}
	for i := range partRows {
		n := fmt.Sprint(i + 1)
		part := shop.Part{Name: a.text("part" + n), Material: a.text("material" + n), ThicknessMM: a.thickness("thickness" + n), Room: a.text("room")}
		switch {
		case part.Name != "":
			p.Parts = append(p.Parts, part)
		case part.Material != "" || part.ThicknessMM != 0:
			a.fail("part"+n, "give the part a name, such as top")
		}
	}
	if len(p.Parts) == 0 {
		a.fail("part1", "a piece has one part at least, such as top")
	}
	return p
}

// thickness reads a field in millimetres; nothing means not known.
func (a answers) thickness(key string) float64 {
	if a.text(key) == "" {
		return 0
	}
	mm, err := quantity.ParseThickness(a.amount(key))
	if err != nil {
		a.fail(key, "write a thickness such as 18 mm or 0.75 in")
	}
	return mm
}

// begin gives every part of a piece the steps of a template; the empty one is
// none.
func (s *server) begin(ctx context.Context, p shop.Piece, template string) error {
	if template == "" {
		return nil
	}
	t, ok := schedule.FindTemplate(template)
	if !ok {
		return &shop.InputError{Field: "the template", Problem: "is none of those offered: choose one"}
	}
	for _, part := range p.Parts {
		if err := s.book.Steps.SetSchedule(ctx, part.ID, t.ID, t.Steps, s.now()); err != nil {
			return err
		}
	}
	return nil
}

// pieceEditView is a piece to be corrected.
type pieceEditView struct {
	ID     string
	Fields []field
	Wrong  string
}

func (s *server) pieceEdit(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pieceAsked(w, r)
	if !ok {
		return
	}
	a := blank()
	a.given.Set("name", p.Name)
	a.given.Set("note", p.Note)
	a.given.Set("client", p.Client)
	s.showPieceEdit(w, r, http.StatusOK, a)
}

func (s *server) showPieceEdit(w http.ResponseWriter, r *http.Request, status int, a answers) {
	view := pieceEditView{ID: r.PathValue("id"), Wrong: a.wrong[""], Fields: []field{
		a.kept(field{Key: "name", Label: "What it is", Needed: true, Longest: shop.LongestName}),
		a.kept(noteField()), a.kept(clientField()),
	}}
	s.show(w, r, status, shown{"Correct the piece", "Pieces", "pieceedit", view})
}

func (s *server) pieceChange(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	ctx, _ := s.tapped(r, a)
	_, err = s.book.Pieces.EditPiece(ctx, r.PathValue("id"), shop.PieceEdit{Name: a.changed("name"), Note: a.changed("note"), Client: a.changed("client")}, s.now())
	if why, mine := inputFault(err); mine {
		a.fail("", why)
		s.showPieceEdit(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	if err != nil {
		s.notTaken(w, "edit a piece", err)
		return
	}
	http.Redirect(w, r, "/pieces/"+r.PathValue("id")+"?noted=edited", http.StatusSeeOther)
}

func (s *server) pieceCopy(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	ctx, _ := s.tapped(r, a)
	p, err := s.book.Pieces.DuplicatePiece(ctx, r.PathValue("id"), strings.TrimSpace(a.text("name")), s.now())
	if err != nil {
		s.notTaken(w, "duplicate a piece", err)
		return
	}
	http.Redirect(w, r, "/pieces/"+p.ID+"?noted=piece", http.StatusSeeOther)
}

func (s *server) pieceDelivered(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "deliver a piece", func(ctx context.Context, a answers, made time.Time) (taken, error) {
		return s.delivered(ctx, r.PathValue("id"), a, made)
	})
}

// pieceAsked is the piece that the address names; where there is none, that has
// been said.
func (s *server) pieceAsked(w http.ResponseWriter, r *http.Request) (shop.Piece, bool) {
	p, err := s.book.Pieces.Piece(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "read a piece", "piece", err)
	}
	return p, err == nil
}
