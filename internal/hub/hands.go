package hub

import (
	"context"
	"fmt"
	"time"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// Bench is what hands write down in the journal.
type Bench interface {
	Coat(ctx context.Context, id string) (shop.Coat, error)
	Product(ctx context.Context, id string) (shop.Product, error)
	Schedules(ctx context.Context, piece string) ([]schedule.Part, error)
	ApplyCoat(ctx context.Context, a shop.Application, at time.Time) (shop.Coat, error)
	AddTouch(ctx context.Context, t shop.Touch, at time.Time) (shop.Touch, error)
}

// Hands does what the links of messages ask for.
type Hands struct {
	hub   *Hub
	bench Bench
}

// NewHands acts on a hub and writes into the journal.
func NewHands(h *Hub, b Bench) Hands { return Hands{h, b} }

// Describe names what a link would do, without a full stop.
func (h Hands) Describe(ctx context.Context, l alert.Link) string {
	switch l.Action {
	case alert.ActionSeen:
		return "Note that you have seen this alert"
	case alert.ActionSnooze:
		return "Leave this alert alone, and tell it again in " + l.Subject
	case alert.ActionCoat:
		if a, name, err := h.another(ctx, l.Subject); err == nil {
			return fmt.Sprintf("Coat on now: %s, %s", a.Name(), name)
		}
	case alert.ActionTouch:
		if coat, found, err := h.touched(ctx, l.Subject); err == nil {
			return fmt.Sprintf("Touch test, %s: %s", found, placed{coat}.Name())
		}
	}
	return "Do what the message offers"
}

// Acknowledge notes that a person has seen an alert.
func (h Hands) Acknowledge(episode string) error {
	if !h.hub.Acknowledge(episode) {
		return ErrNotStanding
	}
	return nil
}

// Snooze leaves an alert alone for a while.
func (h Hands) Snooze(episode string, d time.Duration) error { return h.hub.Snooze(episode, d) }

// Touch notes what was found by touch on a coat.
func (h Hands) Touch(ctx context.Context, coat, found string, at time.Time) error {
	_, err := h.bench.AddTouch(ctx, shop.Touch{Coat: coat, Feel: shop.Feel(found), At: at}, at)
	return err
}

// Coat notes that the next coat is on, over the one named: the next one of the
// schedule or, without one, another of the same product.
func (h Hands) Coat(ctx context.Context, coat string, at time.Time) error {
	next, _, err := h.another(ctx, coat)
	if err != nil {
		return err
	}
	next.Applied = at
	_, err = h.bench.ApplyCoat(ctx, next.Application, at)
	return err
}

// placed is a coat, to be named by where it lies.
type placed struct{ shop.Coat }

// Name is the piece and the part.
func (p placed) Name() string {
	if p.Part.Name == "" {
		return p.Piece
	}
	return p.Piece + ", " + p.Part.Name
}

// upon is a coat to be put on another one.
type upon struct {
	placed
	shop.Application
}

// another returns the coat that would come next, and what its product is
// called.
func (h Hands) another(ctx context.Context, coat string) (upon, string, error) {
	below, err := h.bench.Coat(ctx, coat)
	if err != nil {
		return upon{}, "", err
	}
	if !below.Undone.IsZero() {
		return upon{}, "", fmt.Errorf("the coat %s was undone", coat)
	}
	u := upon{placed{below}, shop.Application{Part: below.Part.ID, Product: below.Product.ID, Film: below.Film, Method: below.Method}}
	parts, err := h.bench.Schedules(ctx, below.PieceID)
	if err != nil {
		return upon{}, "", err
	}
	for i := range parts {
		if parts[i].ID == below.Part.ID {
			u.Product = planned(&parts[i], below.Product.ID)
		}
	}
	if u.Product == below.Product.ID {
		return u, below.Product.Label.Name, nil
	}
	u.Film = drying.Microns(0) // another product's film is its own
	next, err := h.bench.Product(ctx, u.Product)
	return u, next.Label.Name, err
}

// planned is the product of a part's next coat, same where the schedule leaves
// it open or has none.
func planned(p *schedule.Part, same string) string {
	for _, s := range p.Steps[p.At():] {
		if s.Kind.Coats() && s.Product != "" {
			return s.Product
		}
		if s.Kind.Coats() {
			break
		}
	}
	return same
}

// touched reads a link's "coat found".
func (h Hands) touched(ctx context.Context, subject string) (coat shop.Coat, found string, err error) {
	var id string
	if _, err := fmt.Sscanf(subject, "%s %s", &id, &found); err != nil {
		return coat, "", fmt.Errorf("read the link: %w", err)
	}
	coat, err = h.bench.Coat(ctx, id)
	return coat, found, err
}
