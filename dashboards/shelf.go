package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
)

func (s *server) shelfRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /shelf", s.shelfList)
	mux.HandleFunc("POST /shelf", s.shelfAdd)
	mux.HandleFunc("POST /shelf/{id}/open", s.shelfOpen)
	mux.HandleFunc("POST /shelf/{id}/left", s.shelfMeasure)
}

// shelfView is what stands on the shelf, and the form for another can.
type shelfView struct {
	Tabs  []navLink
	Cans  []canView
	Empty []canView // used up
	Filed []filedLine
	Fresh []field // of the form; none while there is no product
	Wrong string
	Open  bool // the form was sent and holds a fault
}

type canView struct {
	ID, Name, Batch, Left, Until string
	Warnings                     []string
	Whence                       []string // how its figures were come by
	Sealed                       bool
}

func (s *server) shelfList(w http.ResponseWriter, r *http.Request) {
	s.showShelf(w, r, http.StatusOK, blank())
}

func (s *server) showShelf(w http.ResponseWriter, r *http.Request, status int, a answers) {
	cans, err := s.book.Shelf.Cans(r.Context(), "")
	if err != nil {
		s.cannotRead(w, "read the shelf", err)
		return
	}
	said, err := s.fillings(r.Context(), cans)
	if err != nil {
		s.cannotRead(w, "read what was said of the cans", err)
		return
	}
	coats, err := s.book.Coats.Coats(r.Context(), shop.CoatFilter{})
	if err != nil {
		s.cannotRead(w, "read what was used", err)
		return
	}
	view := shelfView{Tabs: shelfTabs("Cans"), Filed: s.filed(r.Context(), "can"), Open: !a.ok(), Wrong: a.wrong[""]}
	for _, c := range cans {
		v := s.words.can(c, s.now())
		v.Whence = s.words.canFrom(c, said[c.ID], coats, s.now())
		if c.LeftML > 0 {
			view.Cans = append(view.Cans, v)
		} else {
			view.Empty = append(view.Empty, v)
		}
	}
	if view.Fresh, err = s.canFields(r.Context(), a); err != nil {
		s.cannotRead(w, "list the products", err)
		return
	}
	s.show(w, r, status, shown{"Shelf", "Shelf", "shelf", view})
}

func (w words) can(c shop.Can, now time.Time) canView {
	v := canView{ID: c.ID, Name: c.Name, Batch: c.Batch, Left: volumeWords(c.LeftML), Sealed: c.Opened.IsZero()}
	if until := c.GoodUntil(); !until.IsZero() {
		v.Until = w.date(until)
	}
	if c.LeftML > 0 {
		for _, warning := range c.Warnings(now.In(w.location), 0) {
			v.Warnings = append(v.Warnings, sentence(warning))
		}
	}
	return v
}

// volumeWords tells an amount as a finisher pours it.
func volumeWords(ml float64) string {
	if ml >= 1000 {
		return shortest(ml/1000, 2) + " L"
	}
	return shortest(ml, 0) + " mL"
}

// canFields are the form for a new can; there are none without a product.
func (s *server) canFields(ctx context.Context, a answers) ([]field, error) {
	products, err := s.book.Products.Products(ctx)
	if err != nil || len(products) == 0 {
		return nil, err
	}
	options := []optionGroup{{}}
	for _, p := range products {
		options[0].Options = append(options[0].Options, option{p.ID, p.Label.Name})
	}
	fields := []field{
		{Key: "product", Label: "Product", Needed: true, Options: options},
		{Key: "amount", Label: "How much is in it", Needed: true, Mode: "decimal", Longest: 16, Units: volumeUnits()},
		{Key: "batch", Label: "Batch number", Longest: shop.LongestName},
		{Key: "best_by", Label: "Good until", Hint: "The day on the can.", Type: "date"},
		{Key: "keeps", Label: "Keeps, once opened", Mode: "numeric", Longest: 6, Units: []option{{"d", "days"}, {"w", "weeks"}, {"mo", "months"}}},
		{Key: "opened", Label: "Opened on", Hint: "Leave it empty while it is sealed.", Type: "date"},
	}
	for i := range fields {
		fields[i] = a.filled(fields[i])
	}
	return fields, nil
}

func volumeUnits() []option { return []option{{"mL", "mL"}, {"L", "litres"}} }

func (s *server) shelfAdd(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	can := s.canOf(a)
	if a.ok() {
		_, err = s.book.Shelf.AddCan(r.Context(), can, s.now())
	}
	if why, mine := inputFault(err); mine {
		a.fail("", why)
	} else if err != nil {
		s.notTaken(w, "add a can", err)
		return
	}
	if !a.ok() {
		s.showShelf(w, r, http.StatusUnprocessableEntity, a)
		return
	}
	http.Redirect(w, r, "/shelf?noted=can", http.StatusSeeOther)
}

// canOf reads the form as a can. What is wrong stands beside its field.
func (s *server) canOf(a answers) shop.Can {
	c := shop.Can{Product: a.text("product"), Batch: a.text("batch")}
	if c.Product == "" {
		a.fail("product", "choose what is in the can")
	}
	c.LeftML = a.volume("amount")
	c.BestBy, c.Opened = s.dayOf(a, "best_by"), s.dayOf(a, "opened")
	if text := a.text("keeps"); text != "" {
		n, err := strconv.ParseInt(text, 10, 32)
		days := map[string]int64{"d": 1, "w": 7, "mo": 30}[a.text(unitOf("keeps"))]
		if err != nil || n < 0 || days == 0 {
			a.fail("keeps", "write a whole number, such as 6")
		}
		c.KeepsDays = n * days
	}
	return c
}

// volume reads a field as an amount in mL.
func (a answers) volume(key string) float64 {
	ml, err := quantity.ParseVolume(a.amount(key))
	if err != nil {
		a.fail(key, "write an amount, such as 750 mL or 2.5 L")
	}
	return ml
}

// dayOf reads a field as a day, in the shop's time; the empty one is the zero
// time.
func (s *server) dayOf(a answers, key string) time.Time {
	text := a.text(key)
	if text == "" {
		return time.Time{}
	}
	day, err := time.ParseInLocation(time.DateOnly, text, s.words.location)
	if err != nil {
		a.fail(key, "write a day, such as 2026-05-31")
	}
	return day
}

func (s *server) shelfOpen(w http.ResponseWriter, r *http.Request) {
	if err := s.book.Shelf.OpenCan(r.Context(), r.PathValue("id"), s.now(), s.now()); err != nil {
		s.notTaken(w, "open a can", err)
		return
	}
	http.Redirect(w, r, "/shelf?noted=opened", http.StatusSeeOther)
}

func (s *server) shelfMeasure(w http.ResponseWriter, r *http.Request) {
	a, err := readForm(w, r, maxForm)
	if err != nil {
		s.tooLong(w)
		return
	}
	left := 0.0
	if typed := strings.Trim(a.text("left"), "0"); !slices.Contains([]string{"", ".", ","}, typed) {
		left = a.volume("left")
	} else if a.text("left") == "" {
		a.fail("left", "write how much is left, such as 400 mL; 0 is empty")
	}
	if !a.ok() {
		s.refuse(w, a.wrong["left"])
		return
	}
	if err := s.book.Shelf.MeasureCan(r.Context(), r.PathValue("id"), left, s.now()); err != nil {
		s.notTaken(w, "measure a can", err)
		return
	}
	http.Redirect(w, r, "/shelf?noted=measured", http.StatusSeeOther)
}
