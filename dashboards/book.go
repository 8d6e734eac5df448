package dashboards

import (
	"context"
	"net/http"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/mix"
)

// Book is the journal as its own pages use it, a small interface for each. The
// pages of a part that is nil are not there.
type Book struct {
	Products Products
	Shelf    Shelf
	Mixes    Mixes
}

// Products keeps products as their labels state them.
type Products interface {
	Products(ctx context.Context) ([]shop.Product, error)
	Product(ctx context.Context, id string) (shop.Product, error)
	PutProduct(ctx context.Context, label drying.Product, at time.Time) (shop.Product, error)
}

// Shelf keeps the cans.
type Shelf interface {
	Cans(ctx context.Context, product string) ([]shop.Can, error)
	AddCan(ctx context.Context, c shop.Can, at time.Time) (shop.Can, error)
	OpenCan(ctx context.Context, id string, opened, at time.Time) error
	MeasureCan(ctx context.Context, id string, leftML float64, at time.Time) error
}

// Mixes keeps the colour recipes.
type Mixes interface {
	Mixes(ctx context.Context) ([]shop.Mix, error)
	Mix(ctx context.Context, id string) (shop.Mix, error)
	AddMix(ctx context.Context, r mix.Recipe, at time.Time) (shop.Mix, error)
}

// bookRoutes adds the pages of what the book holds.
func (s *server) bookRoutes(mux *http.ServeMux) {
	if s.book.Products != nil {
		s.productRoutes(mux)
	}
	if s.book.Shelf != nil {
		s.shelfRoutes(mux)
	}
	if s.book.Mixes != nil {
		s.mixRoutes(mux)
	}
}
