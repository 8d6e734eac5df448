package influx

import (
	"context"
	"fmt"

	"recoat/internal/store"
	"recoat/sensors"
)

// Append implements store.Readings: the rounds are durable in the queue. A
// round that the server will not take, such as one older than its retention, is
// kept aside there and told in the log.
func (s *Store) Append(ctx context.Context, room string, rounds []sensors.Round) error {
	const op = "queue readings"
	kept, err := store.Canonical(room, rounds)
	if err != nil {
		return fmt.Errorf("%s: %w", op, err)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s: %w", op, err)
	}
	if err := s.queue.add(ctx, room, kept); err != nil {
		return fmt.Errorf("%s: %w", op, explain(ctx, err))
	}
	select {
	case s.filled <- struct{}{}:
	default:
	}
	return nil
}
