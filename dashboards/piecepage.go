package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// pieceView is one piece: what is next on it, and what was done.
type pieceView struct {
	ID, Name, Note, Client, Photo string
	Since, Delivered, Archived    string
	Next                          []offer
	Scheduled                     bool // a part has a schedule
	Parts                         []partView
	Rags                          []shop.Reminder
	Card, Photos, Record          bool // there is a care card; a photo can be kept; its coats have a record
}

type partView struct {
	ID, Name, Board, Room, Probe, Moisture string
	Steps                                  []stepView
	Coats                                  []coatLine
	Plan                                   string // the template its schedule began as
}

// stepView is one step of a schedule as it stands.
type stepView struct {
	ID                int
	Title, State, How string // state: done, skipped, next or later
	Coat              string // that did it
}

type coatLine struct{ ID, Product, When, How string }

func (s *server) pieceShow(w http.ResponseWriter, r *http.Request) {
	now := s.now()
	work, err := s.workOn(r.Context(), r.PathValue("id"), now)
	if err != nil {
		s.missing(w, "read a piece", "piece", err)
		return
	}
	view, err := s.piece(r.Context(), work, now)
	if err != nil {
		s.cannotRead(w, "read a piece", err)
		return
	}
	s.show(w, r, http.StatusOK, shown{work.piece.Name, "Pieces", "piece", view})
}

func (s *server) piece(ctx context.Context, w work, now time.Time) (pieceView, error) {
	p := w.piece
	v := pieceView{ID: p.ID, Name: p.Name, Note: p.Note, Client: p.Client, Photo: p.Photo, Since: s.words.date(p.Added), Card: s.cards != nil, Photos: s.photos != nil, Record: s.records != nil && len(w.coats) > 0}
	v.Delivered, v.Archived = s.words.dateOrNone(p.Delivered), s.words.dateOrNone(p.Archived)
	labels, err := s.labels(ctx)
	if err != nil {
		return v, err
	}
	rooms, err := s.book.Parts.Rooms(ctx)
	if err != nil {
		return v, err
	}
	wet, err := s.book.Parts.Moistures(ctx, p.ID)
	if err != nil {
		return v, err
	}
	for _, part := range p.Parts {
		o, more, err := s.offer(ctx, w, part, labels, now)
		if err != nil {
			return v, err
		}
		if more && v.Delivered == "" && v.Archived == "" {
			o.Name = part.Name
			v.Next = append(v.Next, o)
		}
		v.Parts = append(v.Parts, s.part(w, part, rooms, wet))
		v.Scheduled = v.Scheduled || w.scheduled(part.ID)
	}
	reminders, err := s.book.Reminders.OpenReminders(ctx)
	v.Rags = slices.DeleteFunc(reminders, func(r shop.Reminder) bool { return r.PieceID != p.ID })
	return v, err
}

func (w words) dateOrNone(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return w.date(t)
}

func (s *server) part(w work, p shop.Part, rooms []shop.Room, wet []shop.Moisture) partView {
	v := partView{ID: p.ID, Name: p.Name, Board: s.words.board(p), Room: titleOf(rooms, p.Room), Probe: p.Probe}
	for _, m := range slices.Backward(wet) {
		if m.Part == p.ID {
			v.Moisture = shortest(m.WoodPct, 1) + " % on " + s.words.date(m.At)
			break
		}
	}
	for _, c := range slices.Backward(w.coats) {
		if c.Part.ID == p.ID {
			v.Coats = append(v.Coats, s.words.coatLine(c, s.now()))
		}
	}
	i := slices.IndexFunc(w.parts, func(q schedule.Part) bool { return q.ID == p.ID })
	if i >= 0 {
		v.Steps = s.words.steps(w.parts[i], s.now())
		if t, ok := schedule.FindTemplate(w.parts[i].Template); ok {
			v.Plan = t.Name
		}
	}
	return v
}

// board is what a part is of: "oak, 22 mm".
func (w words) board(p shop.Part) string {
	thick := ""
	switch {
	case p.ThicknessMM > 0 && w.fahrenheit:
		thick = shortest(p.ThicknessMM/25.4, 2) + " in"
	case p.ThicknessMM > 0:
		thick = shortest(p.ThicknessMM, 1) + " mm"
	}
	switch {
	case p.Material == "":
		return thick
	case thick == "":
		return p.Material
	}
	return p.Material + ", " + thick
}

func titleOf(rooms []shop.Room, id string) string {
	for _, r := range rooms {
		if r.ID == id {
			return r.Title
		}
	}
	return id
}

func (w words) coatLine(c shop.Coat, now time.Time) coatLine {
	line := coatLine{ID: c.ID, Product: c.Product.Label.Name, When: w.clock(c.Applied, now)}
	if c.Film > 0 {
		line.How = w.filmFigure(c.Film).Words() + " wet"
	}
	if c.Method != "" {
		if line.How != "" {
			line.How += ", "
		}
		line.How += methodWords(c.Method)
	}
	return line
}

// steps are the steps of a schedule, each as it stands.
func (w words) steps(p schedule.Part, now time.Time) []stepView {
	var all []stepView
	at := p.At()
	for i, step := range p.Steps {
		v := stepView{ID: step.ID, Title: step.Title(), State: "later"}
		mark, left := p.Marks[step.ID]
		switch {
		case left && mark.Done.IsZero():
			v.State, v.How = "skipped", "left out "+w.clock(mark.Skipped, now)
		case left:
			v.State, v.How, v.Coat = "done", w.clock(mark.Done, now), mark.Coat
		case i < at:
			v.State, v.How = "passed", "passed over"
		case i == at:
			v.State = "next"
		}
		if v.State == "later" || v.State == "next" {
			v.How = waitWords(step)
		}
		all = append(all, v)
	}
	return all
}

// waitWords say what a step waits for, in the plan.
func waitWords(s schedule.Step) string {
	var all []string
	for _, wait := range s.Waits {
		text := ""
		if wait.Stage != nil {
			text = "when " + stageWords[*wait.Stage].state
		}
		if wait.Times > 1 {
			text = fmt.Sprintf("after %g times as long as to %s", wait.Times, stageWords[*wait.Stage].state)
		}
		if wait.Part > 0 && text != "" {
			text = fmt.Sprintf("when part %d is %s", wait.Part, stageWords[*wait.Stage].state)
		}
		if wait.LeastMin > 0 {
			text = joined(text, "at least "+quantity.FormatDuration(time.Duration(wait.LeastMin)*time.Minute))
		}
		if wait.Until != "" {
			text = joined(text, "until "+wait.Until)
		}
		if text != "" {
			all = append(all, text)
		}
	}
	return listWords(all)
}

func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// delivered notes that a piece went out of the shop.
func (s *server) delivered(ctx context.Context, id string, a answers, made time.Time) (taken, error) {
	if a.text("not") != "" {
		made = time.Time{}
	}
	_, err := s.book.Pieces.EditPiece(ctx, id, shop.PieceEdit{Delivered: &made}, s.now())
	return taken{noted: "edited", to: "/pieces/" + id}, err
}
