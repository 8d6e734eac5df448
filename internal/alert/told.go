package alert

import (
	"context"
	"fmt"
	"time"
)

// mostTold bounds how many episodes Told returns.
const mostTold = 500

// Told returns the episodes of a room that were told and had any part of the
// time from one instant to another, oldest first; of very many, the newest. An
// episode that is told once for ever counts when it was told.
func (o *Outbox) Told(ctx context.Context, room string, from, to time.Time) ([]Episode, error) {
	rows, err := o.db.Read.QueryContext(ctx, `SELECT * FROM (`+selectEpisode+`WHERE room=? AND raised_at<>0 AND raised_at<?
		AND CASE WHEN once THEN raised_at>=? ELSE state<>? OR ended_at>=? END
		ORDER BY raised_at DESC, id LIMIT ?) ORDER BY raised_at, id`,
		room, millis(to), millis(from), Cleared, millis(from), mostTold)
	all, err := collect(rows, err, scanEpisode)
	if err != nil {
		return nil, fmt.Errorf("look for what was told of %s: %w", room, err)
	}
	return all, nil
}
