package dashboards

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"recoat/drying"
	"recoat/drying/plan"
	"recoat/internal/partplan"
	"recoat/internal/room"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// openPart is a part with coats still to come, and its piece.
type openPart struct {
	piece  shop.Piece
	part   schedule.Part
	parts  []schedule.Part
	coming []schedule.Coming
}

func (o openPart) name() string { return o.piece.Name + ", " + o.part.Name }

// coatAhead is one coat that the page asks the product of.
type coatAhead struct {
	Key, Name string // of the field, of the coat
	Product   string // id
	Guessed   bool   // the schedule names none
}

// openParts are the parts in a room with a coat left in their schedules.
func (s *server) openParts(ctx context.Context, in string) ([]openPart, error) {
	if s.book.Steps == nil {
		return nil, nil
	}
	ids, err := s.book.Steps.OpenPieces(ctx, in)
	if err != nil {
		return nil, fmt.Errorf("list the pieces: %w", err)
	}
	var all []openPart
	for _, id := range ids {
		piece, err := s.book.Pieces.Piece(ctx, id)
		if err != nil {
			return nil, fmt.Errorf("read a piece: %w", err)
		}
		parts, err := s.book.Steps.Schedules(ctx, id)
		if err != nil {
			return nil, fmt.Errorf("read its schedules: %w", err)
		}
		for i, part := range parts {
			coming, _ := part.Coming(parts)
			here := slices.ContainsFunc(piece.Parts, func(p shop.Part) bool { return p.ID == part.ID && p.Room == in })
			if here && len(coming) > 0 {
				all = append(all, openPart{piece, parts[i], parts, coming})
			}
		}
	}
	return all, nil
}

// productsOf says what each coat of a part puts on: what the page was told, else
// what the schedule names, else what the newest coat of that kind on the piece
// was, else the product chosen for all.
func (s *server) productsOf(ctx context.Context, o openPart, query url.Values, products []shop.Product, other string) ([]coatAhead, error) {
	coats, err := s.book.Coats.Coats(ctx, shop.CoatFilter{Piece: o.piece.ID})
	if err != nil {
		return nil, fmt.Errorf("read the coats: %w", err)
	}
	known := func(id string) bool {
		return slices.ContainsFunc(products, func(p shop.Product) bool { return p.ID == id })
	}
	var out []coatAhead
	for _, c := range o.coming {
		a := coatAhead{Key: fmt.Sprintf("p%d", c.Step.ID), Name: firstUpper(c.Name), Product: other, Guessed: c.Step.Product == ""}
		for _, id := range []string{usedFor(c.Step.Kind, o, coats), c.Step.Product, query.Get(a.Key)} {
			if known(id) {
				a.Product = id
			}
		}
		a.Guessed = a.Guessed && !known(query.Get(a.Key))
		out = append(out, a)
	}
	return out, nil
}

// usedFor is the product of the newest coat on a piece that a step of a kind put
// on; empty: there is none.
func usedFor(kind schedule.Kind, o openPart, coats []shop.Coat) string {
	for _, c := range slices.Backward(coats) {
		for _, p := range o.parts {
			i := slices.IndexFunc(p.Steps, func(s schedule.Step) bool { return s.ID == c.Step })
			if p.ID == c.Part.ID && i >= 0 && p.Steps[i].Kind == kind {
				return c.Product.ID
			}
		}
	}
	return ""
}

func firstUpper(text string) string { return strings.TrimSuffix(sentence(text), ".") }

// askPart lays out a part's coats for the planner.
func (s *server) askPart(ask *planAsk, o openPart, coats []coatAhead, products []shop.Product, snap room.Snapshot) error {
	chosen := func(step schedule.Step) (drying.Product, bool) {
		i := slices.IndexFunc(coats, func(c coatAhead) bool { return c.Key == fmt.Sprintf("p%d", step.ID) })
		id := step.Product
		if i >= 0 {
			id = coats[i].Product
		}
		j := slices.IndexFunc(products, func(p shop.Product) bool { return p.ID == id })
		if j < 0 {
			return drying.Product{}, false
		}
		return products[j].Label, true
	}
	if snap.Ahead == nil {
		return errNoForecast
	}
	p, err := partplan.New(partplan.Ask{
		Parts: o.parts, Part: o.part.ID, Product: chosen, Look: lookIn(snap), Start: ask.start, Work: ask.work,
		Room: plan.Setup{Ensemble: fewer(snap.Ahead), Finish: drying.Handle, Hours: plan.UsualHours(s.words.location), Seed: planSeed},
	})
	if err != nil {
		return err
	}
	ask.coats, ask.opens, ask.untold = p.Setup.Coats, p.Opens, p.Untold
	for i, c := range p.Coats {
		ask.names = append(ask.names, firstUpper(c.Name)+": "+p.Setup.Coats[i].Product.Name)
		ask.before = append(ask.before, beforeWords(c.Before, ask.work))
	}
	if titles := titlesOf(p.After); titles != "" {
		ask.after = "After the last coat: " + titles + "."
	}
	return nil
}

func titlesOf(steps []schedule.Step) string {
	return listWords(mapped(steps, schedule.Step.Title))
}

func beforeWords(steps []schedule.Step, sanding time.Duration) string {
	if len(steps) == 0 {
		return ""
	}
	return "Before it: " + titlesOf(steps) + ", about " + spell(partplan.Work(steps, sanding)) + " of work."
}

// planPart fills in the plan of a part.
func (s *server) planPart(ctx context.Context, v *planView, ask *planAsk, o openPart, in planIn) error {
	coats, err := s.productsOf(ctx, o, in.query, in.products, v.Product)
	if err != nil {
		return err
	}
	v.Coming = coats
	if err := s.askPart(ask, o, coats, in.products, in.snap); err != nil {
		var missing partplan.NoProductError
		if errors.As(err, &missing) {
			return fmt.Errorf("another part has to be on before, and %w", err)
		}
		return err
	}
	if in.query.Has("at") || ask.opens.IsZero() || !ask.opens.After(ask.start) {
		return nil
	}
	// Nothing was asked: the first start that the coat below allows is offered,
	// and the gates are reckoned from there.
	v.At = min(ask.opens.Truncate(planStep).Add(planStep).Unix(), v.From+int64(planFurthest/time.Second))
	v.To = max(v.To, v.At+int64(planAhead/time.Second))
	v.Start = s.words.clock(time.Unix(v.At, 0), s.now())
	ask.start, ask.names, ask.before = time.Unix(v.At, 0).In(s.words.location), nil, nil
	return s.askPart(ask, o, coats, in.products, in.snap)
}
