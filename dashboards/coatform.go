package dashboards

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
)

// coatFormView offers a coat on a part: each product in one tap, and below it
// all that can be told of a coat.
type coatFormView struct {
	Piece, Part, Name string // ids, and "Linen press, doors"
	Title             string // of the step of the schedule; empty: none
	Step              int
	Waits             []string
	When              string
	Taps              []offer
	Groups            []labelGroupView
	Abraded           bool
	Wrong             string
	Open              bool // the whole form was sent and holds a fault
	Back              string
}

// partsView lists the parts that a coat can be put on.
type partsView struct{ Offers []offer }

func (s *server) coatNew(w http.ResponseWriter, r *http.Request) {
	a := blank()
	a.given.Set("part", r.URL.Query().Get("part"))
	if a.text("part") == "" {
		s.chooseWhere(w, r)
		return
	}
	s.showCoatForm(w, r, http.StatusOK, a)
}

func (s *server) chooseWhere(w http.ResponseWriter, r *http.Request) {
	var view partsView
	rooms, err := s.book.Parts.Rooms(r.Context())
	for _, room := range rooms {
		var offers []offer
		if offers, err = s.offers(r.Context(), room.ID, s.now()); err != nil {
			break
		}
		view.Offers = append(view.Offers, offers...)
	}
	if err != nil {
		s.cannotRead(w, "list the parts", err)
		return
	}
	s.show(w, r, http.StatusOK, shown{"A coat on", "Pieces", "coatwhere", view})
}

// showCoatForm shows the form for a coat on the part that the answers name.
func (s *server) showCoatForm(w http.ResponseWriter, r *http.Request, status int, a answers) {
	now, id := s.now(), a.text("part")
	pieceID, _, _ := strings.Cut(id, ".")
	work, err := s.workOn(r.Context(), pieceID, now)
	if err != nil {
		s.missing(w, "read a piece", "part", err)
		return
	}
	part, ok := partIn(work.piece, id)
	if !ok {
		s.missing(w, "read a part", "part", shop.ErrNotFound)
		return
	}
	view, err := s.coatOn(r.Context(), work, part, a)
	if err != nil {
		s.cannotRead(w, "read what a coat can be of", err)
		return
	}
	s.show(w, r, status, shown{"A coat on " + view.Name, "Pieces", "coatform", view})
}

func partIn(p shop.Piece, id string) (shop.Part, bool) {
	for _, part := range p.Parts {
		if part.ID == id {
			return part, true
		}
	}
	return shop.Part{}, false
}

func (s *server) coatOn(ctx context.Context, w work, part shop.Part, a answers) (coatFormView, error) {
	now := s.now()
	v := coatFormView{Piece: w.piece.ID, Part: part.ID, Name: w.piece.Name + ", " + part.Name, Wrong: a.wrong[""], Open: !a.ok(), Abraded: a.text("abraded") != "", Back: "/pieces/" + w.piece.ID}
	next, scheduled := w.nextOn(part.ID)
	if scheduled && next.Step.Kind.Coats() {
		v.Title, v.Step = next.Title, next.Step.ID
		v.Waits, v.When = s.words.waits(next, now)
	}
	products, err := s.book.Products.Products(ctx)
	if err != nil {
		return v, err
	}
	first := w.likelyProduct(part.ID)
	for _, p := range products {
		o := offer{Part: part.ID, Step: v.Step}
		if err := s.fill(ctx, &o, p.ID, p.Label.Name, now); err != nil {
			return v, err
		}
		if p.ID == first {
			v.Taps = append([]offer{o}, v.Taps...)
			continue
		}
		v.Taps = append(v.Taps, o)
	}
	if !a.given.Has("product") {
		a.given.Set("product", first)
	}
	v.Groups, err = s.coatGroups(ctx, a, products, w.stepsOf(part.ID))
	return v, err
}

// stepsOf are the steps of a part's schedule that a coat can be.
func (w work) stepsOf(part string) []option {
	all := []option{{strconv.Itoa(shop.NoStep), "none of the schedule’s"}}
	for _, p := range w.parts {
		for _, step := range p.Steps {
			_, left := p.Marks[step.ID]
			if p.ID == part && step.Kind.Coats() && !left {
				all = append(all, option{strconv.Itoa(step.ID), step.Title()})
			}
		}
	}
	return all
}

// coatGroups are all that can be told of a coat.
func (s *server) coatGroups(ctx context.Context, a answers, products []shop.Product, steps []option) ([]labelGroupView, error) {
	mixes, err := s.book.Mixes.Mixes(ctx)
	if err != nil {
		return nil, err
	}
	cans, err := s.book.Shelf.Cans(ctx, "")
	if err != nil {
		return nil, err
	}
	film := s.words.units(takesFilm)
	groups := []labelGroupView{
		{Title: "What and when", Lead: "", Fields: []field{
			{Key: "product", Label: "Product", Needed: true, Options: productOptions(products)},
			{Key: "applied", Label: "Put on at", Hint: "Empty: now.", Type: "datetime-local"},
			{Key: "method", Label: "Put on by", Options: methodOptions()},
		}},
		{Title: "How thick", Lead: "A gauge, or how much went on how large a face. Empty: as the label states.", Fields: []field{
			{Key: "film", Label: "Wet film", Mode: "decimal", Longest: 12, Units: film},
			{Key: "gauge_wet", Label: "Gauge: last wet tooth", Hint: "The film lies between it and the next dry one.", Mode: "decimal", Longest: 12, Units: film},
			{Key: "gauge_dry", Label: "Gauge: next dry tooth", Mode: "decimal", Longest: 12, Units: film},
			{Key: "used", Label: "Amount that went on", Mode: "decimal", Longest: 12, Units: volumeUnits()},
			{Key: "area", Label: "Face it went on", Mode: "decimal", Longest: 12, Units: areaUnits(s.words.fahrenheit)},
		}},
		{Title: "What was in it", Lead: "", Fields: []field{
			{Key: "over", Label: "What lies below", Hint: "Only where the journal cannot know it, such as an old finish.", Options: belowOptions()},
			{Key: "can", Label: "Out of the can", Options: canOptions(cans)},
			{Key: "batch", Label: "Batch number", Hint: "Empty: the can’s.", Longest: shop.LongestName},
			{Key: "thinned", Label: "Thinned by", Mode: "decimal", Longest: 8, Units: []option{{"%", "% by volume"}}},
			{Key: "recipe", Label: "Mix", Options: mixOptions(mixes)},
			{Key: "reason", Label: "Why, if it was warned of", Type: "area", Longest: shop.LongestNote},
			{Key: "note", Label: "Note", Type: "area", Longest: shop.LongestNote},
		}},
	}
	if len(steps) > 1 {
		groups[0].Fields = append(groups[0].Fields, field{Key: "step", Label: "Step of the schedule", Options: []optionGroup{{Options: steps}}})
	}
	for i := range groups {
		for k := range groups[i].Fields {
			groups[i].Fields[k] = a.kept(groups[i].Fields[k])
		}
	}
	return groups, nil
}

func areaUnits(feet bool) []option {
	if feet {
		return []option{{"ft2", "ft²"}, {"m2", "m²"}}
	}
	return []option{{"m2", "m²"}, {"ft2", "ft²"}}
}

// stageLine is when a coat is at a stage.
type stageLine struct{ Stage, When, From, Between, Label string }

// stageLines are the stages of a coat that is drying.
func (w words) stageLines(all []drying.Estimate, now time.Time) []stageLine {
	var lines []stageLine
	for _, e := range all {
		line := stageLine{Stage: capital(stageWords[e.Stage].state), When: "no time can be given", From: "#from-" + e.Stage.String()}
		switch {
		case e.Reached:
			line.When = "since " + w.likely(e, now)
		case !e.Likely.IsZero():
			line.When, line.Between = w.likely(e, now), w.between(e, now)
		}
		if e.Stated > 0 {
			line.Label = "label " + spanFigure(e.Stated).Words()
		}
		if e.Assumed {
			line.Label = "usual for its kind " + spanFigure(e.Stated).Words()
		}
		lines = append(lines, line)
	}
	return lines
}
