package follow

import (
	"context"
	"slices"
	"time"

	"recoat/internal/shop"
	"recoat/internal/shop/care"
)

// Journal is what a card is read from.
type Journal interface {
	Piece(ctx context.Context, id string) (shop.Piece, error)
	Coats(ctx context.Context, f shop.CoatFilter) ([]shop.Coat, error)
	Mix(ctx context.Context, id string) (shop.Mix, error)
}

// Card makes the card of a piece as it is at an instant, which also says in
// which place's time its dates are. What the journal notes of the client does not
// reach it.
func (r Reader) Card(ctx context.Context, j Journal, id string, at time.Time) (care.Card, error) {
	piece, err := j.Piece(ctx, id)
	if err != nil {
		return care.Card{}, err
	}
	piece.Client = ""
	coats, err := j.Coats(ctx, shop.CoatFilter{Piece: id})
	if err != nil {
		return care.Card{}, err
	}
	look, err := r.Look(ctx, coats, piece.Delivered, at)
	if err != nil {
		return care.Card{}, err
	}
	story := care.Story{Piece: piece, Coats: coats, Look: look, Now: at}
	var had []string
	for _, c := range coats {
		if c.Recipe == "" || slices.Contains(had, c.Recipe) {
			continue
		}
		had = append(had, c.Recipe)
		m, err := j.Mix(ctx, c.Recipe)
		if err != nil {
			return care.Card{}, err
		}
		story.Mixes = append(story.Mixes, m)
	}
	return care.New(story), nil
}
