package backend

import (
	"context"
	"time"

	"recoat/dashboards"
	"recoat/internal/alert"
)

// Outbox is what the page Alerts asks of the outbox.
type Outbox interface {
	Episodes(ctx context.Context, limit int32) ([]alert.Episode, error)
	Messages(ctx context.Context, limit int32) ([]alert.Message, error)
	Held(ctx context.Context) ([]alert.Message, error)
	ChannelStates(ctx context.Context, names []string) ([]alert.ChannelState, error)
	Wishbook
}

// Wishbook keeps what was asked for.
type Wishbook interface {
	Wishes(ctx context.Context) ([]alert.Wish, error)
	AddWish(ctx context.Context, w alert.Wish) error
	DropWish(ctx context.Context, id string) (bool, error)
}

// Snoozer leaves an alert alone for a while.
type Snoozer interface {
	Snooze(episode string, d time.Duration) error
}

// Trier sends a test through one channel.
type Trier interface {
	Try(ctx context.Context, channel string) (alert.Trial, error)
}

// AlertsConfig is what Alerts are made of.
type AlertsConfig struct {
	Outbox    Outbox
	Hub       Snoozer
	Courier   Trier
	Heartbeat *alert.Heartbeat // nil: none is configured
	Channels  []string
	Quiet     alert.QuietHours
	Location  *time.Location
	Now       func() time.Time
	NewID     func() string
}

// Alerts is the page Alerts over the outbox, the hub and the courier.
type Alerts struct{ cfg AlertsConfig }

// NewAlerts returns the page's view.
func NewAlerts(c AlertsConfig) Alerts { return Alerts{c} }

// mostMessages are enough for some days, on several channels.
const mostMessages = 400

// Board is everything as it stands now.
func (a Alerts) Board(ctx context.Context) (b dashboards.AlertBoard, err error) {
	if b.Episodes, err = a.cfg.Outbox.Episodes(ctx, 0); err != nil {
		return b, err
	}
	if b.Messages, err = a.cfg.Outbox.Messages(ctx, mostMessages); err != nil {
		return b, err
	}
	if b.Held, err = a.cfg.Outbox.Held(ctx); err != nil {
		return b, err
	}
	if b.Channels, err = a.cfg.Outbox.ChannelStates(ctx, a.cfg.Channels); err != nil {
		return b, err
	}
	if b.Wishes, err = a.cfg.Outbox.Wishes(ctx); err != nil {
		return b, err
	}
	if end, quiet := a.cfg.Quiet.Until(a.cfg.Now(), a.cfg.Location); quiet {
		b.QuietEnds = end
	}
	if a.cfg.Heartbeat != nil {
		b.Beat = true
		if last := a.cfg.Heartbeat.Last(); !last.At.IsZero() {
			b.Heartbeat = &last
		}
	}
	return b, nil
}

// Snooze leaves an alert alone for a while.
func (a Alerts) Snooze(episode string, d time.Duration) error { return a.cfg.Hub.Snooze(episode, d) }

// Try sends a test through one channel and says what came of it.
func (a Alerts) Try(ctx context.Context, channel string) (alert.Trial, error) {
	return a.cfg.Courier.Try(ctx, channel)
}

// Ask keeps a wish to be told.
func (a Alerts) Ask(ctx context.Context, w alert.Wish) error {
	w.ID, w.Made = a.cfg.NewID(), a.cfg.Now()
	return a.cfg.Outbox.AddWish(ctx, w)
}

// TakeBack forgets a wish; one that is not kept is no error.
func (a Alerts) TakeBack(ctx context.Context, id string) error {
	_, err := a.cfg.Outbox.DropWish(ctx, id)
	return err
}
