package backend

import (
	"context"
	"time"

	"recoat/internal/alert"
	"recoat/internal/alert/webpush"
)

// Subscribers keeps the browsers that are pushed to.
type Subscribers interface {
	Subscribe(ctx context.Context, s alert.PushSubscription, now time.Time) error
	Unsubscribe(ctx context.Context, endpoint string) error
}

// Push lets browsers subscribe.
type Push struct {
	Identity *webpush.Identity
	Subscribers
}

// PublicKey is what browsers subscribe to.
func (p Push) PublicKey() string { return p.Identity.PublicKey() }

// Subscribe keeps what a browser gave.
func (p Push) Subscribe(ctx context.Context, subscription []byte, at time.Time) error {
	s, err := webpush.ParseSubscription(subscription)
	if err != nil {
		return err
	}
	return p.Subscribers.Subscribe(ctx, s, at)
}
