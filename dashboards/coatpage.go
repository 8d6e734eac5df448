package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

// coatView is one coat: what was put on, how it dries, what was found by touch,
// and what was changed of it since.
type coatView struct {
	ID, PieceID, Name, Product, When, Undone string
	Facts                                    []saidLine
	Stages                                   []stageLine
	Pace                                     string
	PaceFigure                               num
	Figures                                  []reckoning // where the times come from
	Touches                                  []touchLine
	Warned                                   []string
	Film                                     string // how its thickness was come by; empty: it was read
	Reason                                   string
	Asks                                     bool // for a reason that nobody gave
	Cautions                                 []string
	Rags                                     bool // the reminder is open
	Groups                                   []labelGroupView
	Abraded                                  bool
	Past                                     []pastLine
	Wrong                                    string
	Open                                     bool
	Records                                  bool // there is a record to see
	ProductID                                string
}

type touchLine struct{ ID, Found, When string }

func (s *server) coatShow(w http.ResponseWriter, r *http.Request) {
	c, err := s.book.Coats.Coat(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "read a coat", "coat", err)
		return
	}
	s.showCoat(w, r, http.StatusOK, c, s.words.answersOfCoat(c))
}

func (s *server) showCoat(w http.ResponseWriter, r *http.Request, status int, c shop.Coat, a answers) {
	view, err := s.coat(r.Context(), c, a)
	if err != nil {
		s.cannotRead(w, "read a coat", err)
		return
	}
	s.show(w, r, status, shown{view.Product, "Pieces", "coat", view})
}

func (s *server) coat(ctx context.Context, c shop.Coat, a answers) (coatView, error) {
	now := s.now()
	v := coatView{
		ID: c.ID, PieceID: c.PieceID, Name: c.Piece + ", " + c.Part.Name, Product: c.Product.Label.Name, When: s.words.clock(c.Applied, now),
		Facts: s.words.coatFacts(c), Reason: c.Reason, Cautions: shop.Cautions(c.Product.Label), Abraded: c.Abraded, Wrong: a.wrong[""], Open: !a.ok(),
		Film: s.words.filmFrom(c), Records: s.records != nil, ProductID: c.Product.ID,
	}
	if !c.Undone.IsZero() {
		v.Undone = s.words.clock(c.Undone, now)
	}
	if c.Warned != "" {
		v.Warned, v.Asks = strings.Split(c.Warned, "\n"), c.Reason == ""
	}
	if snap, live, ok := coatIn(s.house.Snapshots(), c.ID); ok {
		v.Stages, v.Pace, v.PaceFigure = s.words.coatLines(live, now), pace(live.Pace), num{number(live.Pace, 2), "#from-pace"}
		work, err := s.workOn(ctx, c.PieceID, now)
		if err != nil {
			return v, err
		}
		v.Figures = s.words.coatFigures(snap, live, work.dues(), now)
	}
	touches, err := s.book.Touches.Touches(ctx, c.ID)
	if err != nil {
		return v, err
	}
	for _, t := range touches {
		v.Touches = append(v.Touches, touchLine{t.ID, string(t.Feel), s.words.clock(t.At, now)})
	}
	reminders, err := s.book.Reminders.OpenReminders(ctx)
	if err != nil {
		return v, err
	}
	v.Rags = slices.ContainsFunc(reminders, func(r shop.Reminder) bool { return r.Coat == c.ID })
	if v.Past, err = s.past(ctx, c.ID); err != nil {
		return v, err
	}
	products, err := s.book.Products.Products(ctx)
	if err != nil {
		return v, err
	}
	v.Groups, err = s.coatGroups(ctx, a, products, nil)
	return v, err
}

// coatFacts are what is known of how a coat was put on.
func (w words) coatFacts(c shop.Coat) []saidLine {
	var all []saidLine
	add := func(says, value string) {
		if value != "" {
			all = append(all, saidLine{Says: says, Value: value})
		}
	}
	switch {
	case c.FilmMost > 0:
		add("Wet film, by the gauge", w.filmFigure(c.FilmLeast).Words()+" to "+w.filmFigure(c.FilmMost).Words())
	case c.Film > 0:
		add("Wet film", w.filmFigure(c.Film).Words())
		if w.filmFrom(c) != "" {
			all[0].From = "#from-film"
		}
	default:
		add("Wet film", "as on the label")
	}
	add("Put on", methodWords(c.Method))
	if c.UsedML > 0 {
		add("Went on", volumeWords(c.UsedML))
	}
	if c.AreaM2 > 0 {
		add("Face", shortest(c.AreaM2, 2)+" m²")
	}
	add("Batch", c.Batch)
	if c.ThinnedPct > 0 {
		add("Thinned", shortest(c.ThinnedPct, 1)+" %")
	}
	if c.Abraded {
		add("Coat below", "abraded first")
	}
	add("Mixed", c.Mix)
	add("Note", c.Note)
	return all
}

// answersOfCoat fills the form with what is recorded of a coat.
func (w words) answersOfCoat(c shop.Coat) answers {
	a := blank()
	set := func(key, value string) { a.given.Set(key, value) }
	film := func(key string, f drying.Microns) {
		if f > 0 {
			figure := w.filmFigure(f)
			set(key, figure.Value)
			set(unitOf(key), figure.Unit)
		}
	}
	set("product", c.Product.ID)
	set("applied", c.Applied.In(w.location).Format("2006-01-02T15:04"))
	set("method", string(c.Method))
	film("film", c.Film)
	film("gauge_wet", c.FilmLeast)
	film("gauge_dry", c.FilmMost)
	if c.UsedML > 0 {
		set("used", shortest(c.UsedML, 2))
		set(unitOf("used"), "mL")
	}
	if c.AreaM2 > 0 {
		set("area", shortest(c.AreaM2, 4))
		set(unitOf("area"), "m2")
	}
	if c.ThinnedPct > 0 {
		set("thinned", shortest(c.ThinnedPct, 2))
	}
	set("over", string(c.Over))
	set("can", c.Can)
	set("batch", c.Batch)
	set("recipe", c.Recipe)
	set("reason", c.Reason)
	set("note", c.Note)
	if c.Abraded {
		set("abraded", "1")
	}
	return a
}

func (s *server) coatEdit(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	c, err := s.book.Coats.Coat(r.Context(), r.PathValue("id"))
	if err != nil {
		s.missing(w, "read a coat", "coat", err)
		return
	}
	edit := s.editOf(a)
	if a.ok() {
		ctx, _ := s.tapped(r, a)
		_, err = s.book.Coats.EditCoat(ctx, c.ID, edit, s.now())
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
	} else if err != nil {
		s.notTaken(w, "edit a coat", err)
		return
	}
	if !a.ok() {
		s.showCoat(w, r, http.StatusUnprocessableEntity, c, a)
		return
	}
	http.Redirect(w, r, "/coats/"+c.ID+"?noted=edited", http.StatusSeeOther)
}

// editOf is what differs in the form from what it began with.
func (s *server) editOf(a answers) shop.CoatEdit {
	e := shop.CoatEdit{
		Product: a.changed("product"), Batch: a.changed("batch"), Recipe: a.changed("recipe"), Can: a.changed("can"),
		Reason: a.changed("reason"), Note: a.changed("note"),
	}
	if m := a.changed("method"); m != nil {
		method := shop.Method(*m)
		e.Method = &method
	}
	if over := a.changed("over"); over != nil {
		class := compat.Class(*over)
		e.Over = &class
	}
	if a.differs("applied") {
		at := s.instantOf(a, "applied")
		e.Applied = &at
	}
	for key, into := range map[string]**drying.Microns{"film": &e.Film, "gauge_wet": &e.FilmLeast, "gauge_dry": &e.FilmMost} {
		if a.differs(key) {
			v := a.film(key)
			*into = &v
		}
	}
	for key, into := range map[string]**float64{"used": &e.UsedML, "area": &e.AreaM2, "thinned": &e.ThinnedPct} {
		if a.differs(key) {
			v := map[string]func() float64{"used": a.used, "area": a.area, "thinned": func() float64 { return a.percent("thinned") }}[key]()
			*into = &v
		}
	}
	if now, was := a.text("abraded") != "", a.given.Get("was-abraded") != ""; a.given.Has("was-abraded") && now != was {
		e.Abraded = &now
	}
	return e
}
