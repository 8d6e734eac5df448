package dashboards

import (
	"cmp"
	"context"
	"slices"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/schedule"
)

// offer is the next thing to do on a part, with the tap that notes it.
type offer struct {
	PieceID, Name string // "Linen press, doors"
	Part          string
	Step          int
	Title         string // of the step; empty: the part has no schedule
	Coats         bool   // the step puts a coat on
	Product       string // id; empty: to be chosen
	ProductName   string
	Film          float64 // µm; 0: as on the label
	As            string  // "110 µm wet, by brush, as last time"
	Method        string
	Ready         bool
	When          string // it is likely ready, empty: now or not known
	Waits         []string
	Warnings      []warning
	at            time.Time
}

// warning is a word of caution before a coat, with what it rests on.
type warning struct{ Text, Basis string }

// mostOffered is how many pieces of a room are looked through: a bench has no
// more on it.
const mostOffered = 40

// offers are what can be done next on the pieces in a room, what is ready first.
func (s *server) offers(ctx context.Context, roomID string, now time.Time) ([]offer, error) {
	ids, err := s.book.Steps.OpenPieces(ctx, roomID)
	if err != nil {
		return nil, err
	}
	labels, err := s.labels(ctx)
	if err != nil {
		return nil, err
	}
	var all []offer
	for _, id := range ids[max(0, len(ids)-mostOffered):] {
		w, err := s.workOn(ctx, id, now)
		if err != nil {
			return nil, err
		}
		for _, p := range w.piece.Parts {
			if o, ok := s.offer(w, p, labels, now); ok && p.Room == roomID {
				all = append(all, o)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b offer) int {
		return cmp.Or(cmp.Compare(rankOf(a), rankOf(b)), a.at.Compare(b.at))
	})
	return all, nil
}

func rankOf(o offer) int {
	switch {
	case o.Ready:
		return 0
	case !o.at.IsZero():
		return 1
	}
	return 2
}

// labels are the products by id.
func (s *server) labels(ctx context.Context) (map[string]drying.Product, error) {
	products, err := s.book.Products.Products(ctx)
	byID := map[string]drying.Product{}
	for _, p := range products {
		byID[p.ID] = p.Label
	}
	return byID, err
}

// offer is what is next on one part; false: its schedule is finished.
func (s *server) offer(w work, p shop.Part, labels map[string]drying.Product, now time.Time) (offer, bool) {
	o := offer{PieceID: w.piece.ID, Name: w.piece.Name + ", " + p.Name, Part: p.ID, Step: shop.NoStep, Coats: true, Ready: true}
	if next, ok := w.nextOn(p.ID); ok {
		o.Step, o.Title, o.Coats, o.Ready, o.at = next.Step.ID, next.Title, next.Step.Kind.Coats(), next.Ready, next.Likely
		o.Waits, o.When = s.words.waits(next, now)
	} else if w.scheduled(p.ID) {
		return o, false
	}
	if !o.Coats {
		return o, true
	}
	product, as := w.likelyCoat(p.ID)
	label, known := labels[product]
	if !known {
		return o, true
	}
	o.Product, o.ProductName, o.Film, o.Method = product, label.Name, float64(as.Film), string(as.Method)
	o.As = s.words.asLast(as)
	o.Warnings = warnings(w.advice(s.compat, p.ID, label, now))
	return o, true
}

func (w work) scheduled(part string) bool {
	return slices.ContainsFunc(w.parts, func(p schedule.Part) bool { return p.ID == part && len(p.Steps) > 0 })
}

// waits are what a step waits for, in sentences, and when it is likely ready.
func (w words) waits(n schedule.Next, now time.Time) (waits []string, when string) {
	for _, wait := range n.Waits {
		waits = append(waits, sentence(wait.Text))
	}
	if n.Late {
		waits = append(waits, "The recoat window closed at "+w.clock(n.RecoatBy, now)+": abrade first.")
	}
	if n.Likely.After(now) {
		when = w.clock(n.Likely.Round(told), now)
	}
	return waits, when
}

// asLast says how a coat was put on last time.
func (w words) asLast(c shop.Coat) string {
	said := "film as on the label"
	if c.Film > 0 {
		said = w.filmFigure(c.Film).Words() + " wet"
	}
	if c.Method != "" {
		said += ", " + methodWords(c.Method)
	}
	if c.ID == "" {
		return said
	}
	return said + ", as last time"
}

func warnings(all []compat.Advice) []warning {
	var out []warning
	for _, a := range all {
		w := warning{Text: sentence(a.Text)}
		switch {
		case a.Confidence != "":
			w.Basis = capital(string(a.Confidence)) + " confidence. Source: " + a.Source + "."
		case a.Source != "":
			w.Basis = "Source: " + a.Source + "."
		}
		out = append(out, w)
	}
	return out
}
