package dashboards

import (
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/quantity"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
)

const maxForm = 8 << 10 // bytes of a form

// said is what a page says after a form was taken, by the word in its address.
var said = map[string]string{
	"asked":      "Noted: you are told, at night too.",
	"dropped":    "Taken back: you are not told.",
	"failed":     "The test was not taken. Why stands below.",
	"snoozed":    "Noted: you are told again, if it is still so.",
	"taken":      "The test was taken. Look whether it has reached you.",
	"archived":   "It is in the archive. Nothing of it is lost.",
	"can":        "The can stands on the shelf.",
	"check":      "The check is kept. Readings are corrected from now on.",
	"coat":       "The coat is noted. Its times show as soon as the room has been reckoned again.",
	"defect":     "The defect is noted. Below stands what the record says of its causes.",
	"done":       "Noted as done.",
	"edited":     "The change is kept, and so is what stood there before.",
	"measured":   "Noted: that much is left.",
	"mix":        "The mix is kept.",
	"moisture":   "The moisture reading is noted.",
	"opened":     "Noted: the can is open.",
	"password":   "The password is changed, and every session of that account has ended.",
	"person":     "They may come in.",
	"photo":      "The photo is kept.",
	"piece":      "The piece is in the journal.",
	"product":    "The label is kept.",
	"rags":       "Noted: the rags are dealt with.",
	"removed":    "They may not come in any more.",
	"schedule":   "The schedule is kept.",
	"seen":       "Noted: you have seen it.",
	"skipped":    "The step is left out.",
	"touch":      "The touch test is noted. The times learn from it.",
	"unarchived": "It is out of the archive again.",
	"undone":     "Taken back. It stays in the record as undone.",
}

func (s *server) coatRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /coats/new", s.coatNew)
	mux.HandleFunc("POST /coats", s.coatApply)
	mux.HandleFunc("GET /coats/{id}", s.coatShow)
	mux.HandleFunc("POST /coats/{id}", s.coatEdit)
	mux.HandleFunc("POST /coats/{id}/undo", s.coatUndo)
	mux.HandleFunc("POST /coats/{id}/rags", s.ragsDone)
	mux.HandleFunc("POST /coats/{id}/touches", s.touchAdd)
	mux.HandleFunc("POST /touches/{id}/undo", s.touchUndo)
}

// coatApply notes a coat: with one tap, or with all that the form asks.
func (s *server) coatApply(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.notTap(w, r, "note a coat", err)
		return
	}
	ctx, made := s.tapped(r, a)
	app := s.applicationOf(a, made)
	if !a.ok() && scripted(r) {
		s.answer(w, http.StatusUnprocessableEntity, map[string]string{"refused": a.firstWrong()})
		return
	}
	if a.wrong["part"] != "" {
		s.refuse(w, a.wrong["part"])
		return
	}
	if !a.ok() {
		s.showCoatForm(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	advice, err := s.book.Adviser.Advise(ctx, s.compat, app)
	if err != nil {
		s.notTap(w, r, "note a coat", err)
		return
	}
	app.Warned = advice.Warned()
	c, err := s.book.Coats.ApplyCoat(ctx, app, s.now())
	if why, mine := inputFault(err); mine && !scripted(r) && a.text("all") != "" {
		a.fail("", why)
		s.showCoatForm(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	if err != nil {
		s.notTap(w, r, "note a coat", err)
		return
	}
	t := taken{noted: "coat", of: c.ID, to: backTo(a, "/")}
	if advice.Asks() && app.Reason == "" {
		t.says, t.more = "The coat is noted. It was advised against: say why, for whoever looks at it later.", "/coats/"+c.ID
	}
	s.took(w, r, t)
}

// firstWrong is one of the things that are wrong, the form's own last.
func (a answers) firstWrong() string {
	for key, why := range a.wrong {
		if key != "" {
			return why
		}
	}
	return a.wrong[""]
}

// applicationOf reads the form as a coat. What is wrong stands beside its field.
func (s *server) applicationOf(a answers, at time.Time) shop.Application {
	app := shop.Application{
		Part: a.text("part"), Product: a.text("product"), Applied: at, Method: shop.Method(a.text("method")),
		Batch: a.text("batch"), Recipe: a.text("recipe"), Can: a.text("can"), Mix: a.text("mix"),
		Over: compat.Class(a.text("over")), Abraded: a.text("abraded") != "", Reason: a.text("reason"), Note: a.text("note"),
	}
	if app.Part == "" {
		a.fail("part", "choose the part")
	}
	if app.Product == "" {
		a.fail("product", "choose the product")
	}
	if typed := a.text("applied"); typed != "" {
		app.Applied = s.instantOf(a, "applied")
	}
	if step := a.text("step"); step != "" {
		n, err := strconv.Atoi(step)
		if err != nil {
			a.fail("step", "choose a step of the schedule")
		}
		app.Step = n
	}
	app.Film, app.FilmLeast, app.FilmMost = a.film("film"), a.film("gauge_wet"), a.film("gauge_dry")
	app.UsedML, app.AreaM2, app.ThinnedPct = a.used(), a.area(), a.percent("thinned")
	if err := app.FromVolume(); err != nil {
		a.fail("area", err.Error())
	}
	return app
}

// film reads a wet film; nothing means not measured.
func (a answers) film(key string) drying.Microns {
	if a.text(key) == "" {
		return 0
	}
	v, err := quantity.ParseFilm(a.amount(key))
	if err != nil || v < shop.ThinnestFilm || v > shop.ThickestFilm {
		a.fail(key, fmt.Sprintf("a wet film has %v to %v µm, or leave it empty for the label's film", float64(shop.ThinnestFilm), float64(shop.ThickestFilm)))
	}
	return v
}

func (a answers) used() float64 {
	if a.text("used") == "" {
		return 0
	}
	return a.volume("used")
}

func (a answers) area() float64 {
	if a.text("area") == "" {
		return 0
	}
	v, err := quantity.ParseArea(a.amount("area"))
	if err != nil {
		a.fail("area", "write an area such as 1.2 m²")
	}
	return v
}

func (a answers) percent(key string) float64 {
	text := strings.Replace(strings.TrimSuffix(a.text(key), "%"), ",", ".", 1)
	if text == "" {
		return 0
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || !(v >= 0 && v <= 200) {
		a.fail(key, "write a figure from 0 to 200")
		return 0
	}
	return v
}

// instantOf reads a field as a day and a time, in the shop's time.
func (s *server) instantOf(a answers, key string) time.Time {
	t, err := time.ParseInLocation("2006-01-02T15:04", a.text(key), s.words.location)
	if err != nil {
		a.fail(key, "write a day and a time, such as 2026-05-31T21:40")
	}
	return t
}

func (s *server) coatUndo(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "undo a coat", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		return taken{noted: "undone", to: "/"}, s.book.Coats.UndoCoat(ctx, r.PathValue("id"), s.now())
	})
}

func (s *server) ragsDone(w http.ResponseWriter, r *http.Request) {
	s.tap(w, r, "tick the rags", func(ctx context.Context, _ answers, _ time.Time) (taken, error) {
		return taken{noted: "rags", to: "/"}, s.book.Reminders.TickReminder(ctx, r.PathValue("id"), s.now())
	})
}
