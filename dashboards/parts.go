package dashboards

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"recoat/internal/shop"
)

func (s *server) partRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /parts/{id}/edit", s.partEdit)
	mux.HandleFunc("POST /parts/{id}", s.partChange)
	mux.HandleFunc("POST /parts/{id}/moisture", s.moistureAdd)
	mux.HandleFunc("POST /parts/{id}/steps/{step}/done", s.stepDone)
	mux.HandleFunc("POST /parts/{id}/steps/{step}/skip", s.stepSkip)
	mux.HandleFunc("POST /parts/{id}/steps/{step}/undo", s.stepUndo)
	mux.HandleFunc("GET /parts/{id}/schedule", s.scheduleShow)
	mux.HandleFunc("POST /parts/{id}/schedule", s.scheduleChange)
	mux.HandleFunc("POST /parts/{id}/template", s.scheduleBegin)
}

// partOfPiece finds a part by its id, with its piece; where there is none, that
// has been said.
func (s *server) partOfPiece(w http.ResponseWriter, r *http.Request) (shop.Piece, shop.Part, bool) {
	id := r.PathValue("id")
	piece, _, _ := strings.Cut(id, ".")
	p, err := s.book.Pieces.Piece(r.Context(), piece)
	if err != nil {
		s.missing(w, "read a part", "part", err)
		return p, shop.Part{}, false
	}
	for _, part := range p.Parts {
		if part.ID == id {
			return p, part, true
		}
	}
	s.missing(w, "read a part", "part", shop.ErrNotFound)
	return p, shop.Part{}, false
}

// partEditView is a part to be corrected, placed and measured.
type partEditView struct {
	ID, Piece, PieceName, Name string
	Fields, Meter              []field
	Wrong                      string
}

func (s *server) partEdit(w http.ResponseWriter, r *http.Request) {
	_, part, ok := s.partOfPiece(w, r)
	if !ok {
		return
	}
	a := blank()
	a.given.Set("name", part.Name)
	a.given.Set("material", part.Material)
	if part.ThicknessMM > 0 {
		a.given.Set("thickness", shortest(part.ThicknessMM, 2))
		a.given.Set(unitOf("thickness"), "mm")
	}
	a.given.Set("room", part.Room)
	a.given.Set("probe", part.Probe)
	s.showPartEdit(w, r, http.StatusOK, a)
}

func (s *server) showPartEdit(w http.ResponseWriter, r *http.Request, status int, a answers) {
	piece, part, ok := s.partOfPiece(w, r)
	if !ok {
		return
	}
	rooms, err := s.book.Parts.Rooms(r.Context())
	if err != nil {
		s.cannotRead(w, "list the rooms", err)
		return
	}
	view := partEditView{ID: part.ID, Piece: piece.ID, PieceName: piece.Name, Name: part.Name, Wrong: a.wrong[""]}
	view.Fields = []field{
		a.kept(field{Key: "name", Label: "Part", Needed: true, Longest: shop.LongestName}),
		a.kept(field{Key: "material", Label: "Wood or board", Longest: shop.LongestName, Suggests: boards()}),
		a.kept(field{Key: "thickness", Label: "Thickness", Hint: "A thick board is slow to warm, so its surface lags behind the air.", Mode: "decimal", Longest: 12, Units: thicknessUnits(s.words.fahrenheit)}),
		a.kept(field{Key: "room", Label: "Room it is in", Options: roomOptions(rooms)}),
		a.kept(field{Key: "probe", Label: "Surface probe on it", Hint: "Its number, as the room’s page shows it. Empty: none lies on it.", Longest: 64, Suggests: s.probes(part.Room)}),
	}
	view.Meter = []field{
		a.filled(field{Key: "wood", Label: "Meter says", Mode: "decimal", Longest: 8, Needed: true, Units: []option{{"%", "%"}}}),
		a.filled(field{Key: "depth", Label: "Depth of the pins", Mode: "decimal", Longest: 8, Units: []option{{"mm", "mm"}}}),
		a.filled(field{Key: "meternote", Label: "Set to", Hint: "The wood the meter was set to. It can be two points off, and says nothing over metal, filler or a thick film.", Longest: shop.LongestNote}),
	}
	s.show(w, r, status, shown{piece.Name + ", " + part.Name, "Pieces", "partedit", view})
}

// probes are the surface probes heard in a room.
func (s *server) probes(room string) []string {
	var all []string
	for _, snapshot := range s.house.Snapshots() {
		for _, surface := range snapshot.Surfaces {
			if snapshot.Room == room && surface.Measured && surface.Probe != "" {
				all = append(all, surface.Probe)
			}
		}
	}
	return all
}

func (s *server) partChange(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	edit := shop.PartEdit{Name: a.changed("name"), Material: a.changed("material")}
	if a.differs("thickness") {
		mm := a.thickness("thickness")
		edit.ThicknessMM = &mm
	}
	if a.ok() {
		err = s.changePart(r.Context(), r.PathValue("id"), a, edit)
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
	} else if err != nil {
		s.notTaken(w, "edit a part", err)
		return
	}
	if !a.ok() {
		s.showPartEdit(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	piece, _, _ := strings.Cut(r.PathValue("id"), ".")
	http.Redirect(w, r, "/pieces/"+piece+"?noted=edited", http.StatusSeeOther)
}

// changePart changes what differs, first what the part is, then where.
func (s *server) changePart(ctx context.Context, id string, a answers, edit shop.PartEdit) error {
	if edit != (shop.PartEdit{}) {
		if _, err := s.book.Parts.EditPart(ctx, id, edit, s.now()); err != nil {
			return err
		}
	}
	if !a.differs("room") && !a.differs("probe") {
		return nil
	}
	return s.book.Parts.PlacePart(ctx, id, a.text("room"), a.text("probe"), s.now())
}

func (s *server) moistureAdd(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	ctx, made := s.tapped(r, a)
	if a.text("wood") == "" {
		a.fail("wood", "write what the meter says, such as 9.5")
	}
	m := shop.Moisture{Part: r.PathValue("id"), At: made, WoodPct: a.percent("wood"), DepthMM: a.percent("depth"), Note: a.text("meternote")}
	if a.ok() {
		_, err = s.book.Parts.AddMoisture(ctx, m, s.now())
	}
	if why, mine := inputFault(err); mine {
		a.fail("wood", why)
	} else if err != nil {
		s.notTaken(w, "note a moisture reading", err)
		return
	}
	if !a.ok() {
		s.refuse(w, a.firstWrong())
		return
	}
	piece, _, _ := strings.Cut(m.Part, ".")
	http.Redirect(w, r, "/pieces/"+piece+"?noted=moisture", http.StatusSeeOther)
}

func (s *server) stepDone(w http.ResponseWriter, r *http.Request) {
	s.markStep(w, r, "done", func(ctx context.Context, part string, step int, made time.Time) error {
		return s.book.Steps.TickStep(ctx, part, step, made, false, s.now())
	})
}

func (s *server) stepSkip(w http.ResponseWriter, r *http.Request) {
	s.markStep(w, r, "skipped", func(ctx context.Context, part string, step int, made time.Time) error {
		return s.book.Steps.TickStep(ctx, part, step, made, true, s.now())
	})
}

func (s *server) stepUndo(w http.ResponseWriter, r *http.Request) {
	s.markStep(w, r, "undone", func(ctx context.Context, part string, step int, _ time.Time) error {
		return s.book.Steps.UntickStep(ctx, part, step, s.now())
	})
}

// markStep takes the tap on a step of a schedule.
func (s *server) markStep(w http.ResponseWriter, r *http.Request, noted string, mark func(ctx context.Context, part string, step int, made time.Time) error) {
	s.tap(w, r, "mark a step", func(ctx context.Context, _ answers, made time.Time) (taken, error) {
		part := r.PathValue("id")
		piece, _, _ := strings.Cut(part, ".")
		t := taken{noted: noted, to: "/pieces/" + piece}
		step, err := strconv.Atoi(r.PathValue("step"))
		if err != nil {
			return t, &shop.InputError{Field: "the step", Problem: "is none of the schedule"}
		}
		if noted != "undone" {
			t.undo = "/parts/" + part + "/steps/" + strconv.Itoa(step) + "/undo"
		}
		return t, mark(ctx, part, step, made)
	})
}
