package backend

import (
	"context"
	"time"

	"recoat/dashboards"
	"recoat/internal/shop"
)

// Journal writes down what was done in the pages.
type Journal struct {
	journal *shop.Journal
	now     func() time.Time
}

// NewJournal returns the pages' view of the journal.
func NewJournal(j *shop.Journal) Journal { return Journal{journal: j, now: time.Now} }

// Choices lists every part that is in a room, and every product.
func (j Journal) Choices(ctx context.Context) (dashboards.Choices, error) {
	var c dashboards.Choices
	pieces, err := j.journal.Pieces(ctx)
	if err != nil {
		return c, err
	}
	for _, piece := range pieces {
		for _, part := range piece.Parts {
			if part.Room != "" {
				c.Parts = append(c.Parts, dashboards.Choice{ID: part.ID, Label: piece.Name + ", " + part.Name})
			}
		}
	}
	products, err := j.journal.Products(ctx)
	if err != nil {
		return c, err
	}
	for _, p := range products {
		c.Products = append(c.Products, dashboards.Choice{ID: p.ID, Label: p.Label.Name})
	}
	return c, nil
}

// ApplyCoat records a coat.
func (j Journal) ApplyCoat(ctx context.Context, c dashboards.CoatRequest) error {
	_, err := j.journal.ApplyCoat(ctx, shop.Application{Part: c.Part, Product: c.Product, Film: c.Film, Applied: c.At}, j.now())
	return err
}

// AddTouch records a touch test.
func (j Journal) AddTouch(ctx context.Context, t dashboards.TouchRequest) error {
	_, err := j.journal.AddTouch(ctx, shop.Touch{Coat: t.Coat, Feel: shop.Feel(t.Found), At: t.At}, j.now())
	return err
}
