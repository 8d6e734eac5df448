package backend

import (
	"context"
	"time"

	"recoat/internal/follow"
	"recoat/internal/shop"
	"recoat/internal/shop/care"
)

// Cards makes cards from the journal and from what the store kept of the rooms.
type Cards struct {
	Reader  follow.Reader
	Journal *shop.Journal
}

// Card makes the card of a piece as it is at an instant.
func (c Cards) Card(ctx context.Context, id string, at time.Time) (care.Card, error) {
	return c.Reader.Card(ctx, c.Journal, id, at)
}
