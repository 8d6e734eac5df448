package shop

import (
	"context"
	"fmt"
	"strings"
	"time"

	"recoat/drying"
	"recoat/internal/shop/compat"
	"recoat/internal/shop/film"
	"recoat/internal/shop/schedule"
)

// Advice is what there is to think of before a coat is put on, or after it was.
// None of it forbids.
type Advice struct {
	Compat   []compat.Advice `json:"advice"`
	Shelf    []ShelfWarning  `json:"shelf"`
	Cautions []string        `json:"cautions"`
}

// ShelfWarning is what to think of about a can.
type ShelfWarning struct {
	Can      string   `json:"can"` // id
	Batch    string   `json:"batch"`
	Warnings []string `json:"warnings"`
}

// Warned is what was warned of, a line for each, as a coat keeps it.
func (a Advice) Warned() string {
	var lines []string
	for _, c := range a.Compat {
		if c.Warns() {
			lines = append(lines, c.Text)
		}
	}
	return strings.Join(lines, "\n")
}

// Asks reports whether going on deserves a reason.
func (a Advice) Asks() bool {
	for _, c := range a.Compat {
		if c.Asks() {
			return true
		}
	}
	return false
}

// Advise says what there is to think of about a coat over the newest one that
// was on its part before it, by the rules of a table.
func (j *Journal) Advise(ctx context.Context, table compat.Table, a Application) (Advice, error) {
	product, err := j.Product(ctx, a.Product)
	if err != nil {
		return Advice{}, err
	}
	earlier, err := j.Coats(ctx, CoatFilter{Part: a.Part, To: a.Applied})
	if err != nil {
		return Advice{}, err
	}
	cans, err := j.Cans(ctx, a.Product)
	if err != nil {
		return Advice{}, err
	}
	advice := Advice{Compat: []compat.Advice{}, Shelf: shelfWarnings(cans, a), Cautions: Cautions(product.Label)}
	m := compat.Meeting{Above: classed(compat.LayerOf(product.Label), a.Class), Abraded: a.Abraded}
	if n := len(earlier); n > 0 {
		below := earlier[n-1]
		m.Below, m.Since = classed(compat.LayerOf(below.Product.Label), below.Class), a.Applied.Sub(below.Applied)
	} else if a.Over == "" {
		return advice, nil // nothing is known to lie below
	}
	m.Below = classed(m.Below, a.Over)
	advice.Compat = table.Check(m)
	return advice, nil
}

// classed is a layer of the class that was told, if one was.
func classed(l compat.Layer, told compat.Class) compat.Layer {
	if told != "" {
		l.Class = told
	}
	return l
}

// shelfWarnings looks at the can that a coat comes out of or, where none is
// named, at those of its product that are not empty.
func shelfWarnings(cans []Can, a Application) []ShelfWarning {
	all := []ShelfWarning{}
	for _, can := range cans {
		if can.ID != a.Can && (a.Can != "" || can.LeftML == 0) {
			continue
		}
		if w := can.Warnings(a.Applied, a.UsedML); len(w) > 0 {
			all = append(all, ShelfWarning{can.ID, can.Batch, w})
		}
	}
	return all
}

// CoatDefaults is the coat that a finisher most likely puts on a part now. Where
// no product is told it is that of the schedule's next coat, or else the last
// one on the part, or else in the shop. Film, method, thinning and can are as it
// was last put on. Product is empty where nothing is known yet. Nothing is
// recorded.
func (j *Journal) CoatDefaults(ctx context.Context, part, product string, now time.Time) (Application, error) {
	a := Application{Part: part, Product: product, Applied: now}
	piece, number, err := partNumbers(part)
	if err != nil {
		return a, fmt.Errorf("read the part: %w", err)
	}
	parts, err := schedules(ctx, j.db.Read, piece)
	if err != nil {
		return a, fmt.Errorf("read the schedule: %w", err)
	}
	for _, p := range parts {
		if int64(p.Number) == number && product == "" {
			a.Step, a.Product = nextProduct(p)
		}
	}
	last, err := j.lastCoat(ctx, piece, number, a.Product)
	if err != nil || last == nil {
		return a, err
	}
	a.Product, a.Film, a.Method, a.ThinnedPct = last.Product.ID, last.Film, last.Method, last.ThinnedPct
	a.Recipe, a.Mix = last.Recipe, last.Mix
	return a, j.lastCan(ctx, last.Can, &a)
}

// nextProduct is the next coat's step and, where the schedule names it, its
// product.
func nextProduct(p schedule.Part) (step int, product string) {
	for _, s := range p.Steps[p.At():] {
		if s.Kind.Coats() {
			return s.ID, s.Product
		}
	}
	return 0, ""
}

// lastCoat is the newest coat of a product or, where none is named, the newest
// on the part, or else anywhere; nil: none.
func (j *Journal) lastCoat(ctx context.Context, piece, part int64, product string) (*Coat, error) {
	const newest = ` ORDER BY coat.applied DESC, coat.id DESC LIMIT 1`
	conditions := []string{`coat.piece = ? AND coat.part = ?`, `TRUE`}
	values := [][]any{{piece, part}, nil}
	if product != "" {
		n, err := productIDs.number(product)
		if err != nil {
			return nil, err
		}
		conditions, values = []string{`coat.product = ?`}, [][]any{{n}}
	}
	for i, condition := range conditions {
		found, err := query(ctx, j.db.Read, "read the last coat", coatReader(), selectCoat+` WHERE coat.undone IS NULL AND product.archived IS NULL AND `+condition+newest, values[i]...)
		if err != nil {
			return nil, err
		}
		if len(found) > 0 {
			return &found[0], nil
		}
	}
	return nil, nil
}

// lastCan takes the can that was used last, and its batch, if it is there and
// holds anything.
func (j *Journal) lastCan(ctx context.Context, id string, a *Application) error {
	if id == "" {
		return nil
	}
	can, err := j.Can(ctx, id)
	if err != nil {
		return err
	}
	if can.LeftML > 0 && can.Archived.IsZero() {
		a.Can, a.Batch = can.ID, can.Batch
	}
	return nil
}

// FromVolume fills in the film from the amount used and the area where no film
// was measured. It is refused where not nearly all of it stays on the piece.
func (a *Application) FromVolume() error {
	switch {
	case a.AreaM2 == 0 || a.Film != 0 || a.FilmMost != 0:
		return nil
	case a.UsedML == 0:
		return &InputError{"the area", "gives the film only together with the amount used, such as 120mL"}
	case a.Method == Spray || a.Method == "":
		return &InputError{"the area", "gives the film only where nearly all of it stays on the piece: say brush, roller, pad or wipe, or measure the film of a sprayed coat"}
	}
	wet, err := film.Wet(film.Millilitres(a.UsedML), film.SquareMetres(a.AreaM2), 1)
	if err != nil {
		return &InputError{"the film", "cannot be reckoned: " + err.Error()}
	}
	a.Film = wet
	return nil
}

// FromGauge fills in between which teeth of a notched gauge the film lies. Teeth
// are in order, the smallest first; wetted is how many came out wet.
func (a *Application) FromGauge(teeth []drying.Microns, wetted int32) error {
	between, err := film.Gauge(teeth, wetted)
	if err != nil {
		return &InputError{"the gauge", "cannot be read: " + err.Error()}
	}
	a.FilmLeast, a.FilmMost = between.Low, between.High
	return nil
}
