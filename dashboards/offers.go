package dashboards

import (
	"cmp"
	"context"
	"slices"
	"sort"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
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
	Like          shop.Application // as it was put on last time
	As            string           // "110 µm wet, by brush, as last time"
	Ready         bool
	When          string // it is likely ready, empty: now or not known
	From          string // where that time comes from; empty: the schedule alone tells it
	Waits         []string
	Warnings      []warning
	at            time.Time
}

// warning is a word of caution before a coat, with what it rests on.
type warning struct{ Text, Basis string }

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
	for _, id := range ids {
		w, err := s.workOn(ctx, id, now)
		if err != nil {
			return nil, err
		}
		for _, p := range w.piece.Parts {
			if p.Room != roomID {
				continue
			}
			o, ok, err := s.offer(ctx, w, p, labels, now)
			if err != nil {
				return nil, err
			}
			if ok {
				all = append(all, o)
			}
		}
	}
	sort.SliceStable(all, func(i, j int) bool {
		a, b := all[i], all[j]
		return cmp.Or(cmp.Compare(rankOf(a), rankOf(b)), a.at.Compare(b.at)) < 0
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
func (s *server) offer(ctx context.Context, w work, p shop.Part, labels map[string]drying.Product, now time.Time) (o offer, more bool, err error) {
	o = offer{PieceID: w.piece.ID, Name: w.piece.Name + ", " + p.Name, Part: p.ID, Coats: true, Ready: true}
	if next, ok := w.nextOn(p.ID); ok {
		o.Step, o.Title, o.Coats, o.Ready, o.at = next.Step.ID, next.Title, next.Step.Kind.Coats(), next.Ready, next.Likely
		o.Waits, o.When = s.words.waits(next, now)
		if coat := waitsFor(next); coat != "" {
			o.From = fromCoat(coat, "next")
		}
	} else if w.scheduled(p.ID) {
		return o, false, nil
	}
	product := w.likelyProduct(p.ID)
	if label, known := labels[product]; o.Coats && known {
		err = s.fill(ctx, &o, product, label.Name, now)
	}
	return o, true, err
}

// fill makes an offer one of a product, as it was put on last time, with what
// there is to think of first.
func (s *server) fill(ctx context.Context, o *offer, product, name string, now time.Time) error {
	like, err := s.book.Adviser.CoatDefaults(ctx, o.Part, product, now)
	if err != nil {
		return err
	}
	advice, err := s.book.Adviser.Advise(ctx, s.compat, like)
	if err != nil {
		return err
	}
	o.Product, o.ProductName, o.Like, o.As, o.Warnings = product, name, like, s.words.asLast(like), warnings(advice)
	return nil
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

// waitsFor is the coat that a step waits for the longest; empty: none.
func waitsFor(n schedule.Next) string {
	coat, at := "", time.Time{}
	for _, w := range n.Waits {
		if w.Coat != "" && (coat == "" || w.Likely.After(at)) {
			coat, at = w.Coat, w.Likely
		}
	}
	return coat
}

// asLast says how a coat was put on last time.
func (w words) asLast(a shop.Application) string {
	if a.Film == 0 && a.Method == "" {
		return "film as on the label"
	}
	said := "film as on the label"
	if a.Film > 0 {
		said = w.filmFigure(a.Film).Words() + " wet"
	}
	if a.Method != "" {
		said += ", " + methodWords(a.Method)
	}
	return said + ", as last time"
}

// warnings are what there is to think of before a coat, of what lies below it
// and of the cans it may come out of.
func warnings(advice shop.Advice) []warning {
	var out []warning
	for _, a := range advice.Compat {
		if !a.Warns() {
			continue
		}
		w := warning{Text: sentence(a.Text)}
		switch {
		case a.Confidence != "":
			w.Basis = capital(string(a.Confidence)) + " confidence. Source: " + a.Source + "."
		case a.Source != "":
			w.Basis = "Source: " + a.Source + "."
		}
		out = append(out, w)
	}
	for _, can := range advice.Shelf {
		name := "The can"
		if can.Batch != "" {
			name = "The can of batch " + can.Batch
		}
		for _, text := range can.Warnings {
			out = append(out, warning{Text: name + " " + text + "."})
		}
	}
	return out
}
