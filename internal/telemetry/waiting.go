package telemetry

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"recoat/internal/sqldb"
)

// Backlog is what a node keeps for the hub.
type Backlog struct {
	Rounds  int64
	Oldest  time.Time // of a round, by the node's clock at the time; zero: none waits
	Dropped int64     // rounds lost for want of room, since the file was made
}

// Waiting looks into the spool at path, which its agent may have open.
func Waiting(ctx context.Context, path string) (b Backlog, err error) {
	err = sqldb.Visit(ctx, path, func(db *sql.DB) error {
		var oldest sql.NullInt64
		err := db.QueryRowContext(ctx, `SELECT count(*), min(time_ms), (SELECT dropped FROM ledger) FROM rounds WHERE stored = 0`).Scan(&b.Rounds, &oldest, &b.Dropped)
		if oldest.Valid {
			b.Oldest = time.UnixMilli(oldest.Int64).UTC()
		}
		return err
	})
	if err != nil {
		return Backlog{}, fmt.Errorf("look into the spool: %w", err)
	}
	return b, nil
}
