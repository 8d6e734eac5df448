package telemetry

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"recoat/sensors"
)

// Place is where a round stands in the spool. The zero Place is before all.
type Place struct {
	boot int64
	seq  int64
}

// Entry is a round in the spool and its place.
type Entry struct {
	Place Place
	Round sensors.Round
}

// SpoolStats says how full a spool is.
type SpoolStats struct {
	Pending int64 // rounds the hub does not have in their present form
	Held    int64 // rounds it has, kept until their time can be corrected
	Aside   int64 // rounds it refused
	Bytes   int64
	Dropped int64 // rounds lost for want of room, since the file was made
}

// Pending returns rounds that the hub does not have, in order, from the first
// one after a place.
func (s *Spool) Pending(ctx context.Context, after Place, limit int) ([]Entry, error) {
	rows, err := s.db.Read.QueryContext(ctx, `SELECT r.boot, r.seq, b.boot, r.time_ms, r.uptime_ms, r.clock_set, r.readings
		FROM rounds r JOIN boots b ON b.id = r.boot
		WHERE r.stored = 0 AND (r.boot, r.seq) > (?, ?) ORDER BY r.boot, r.seq LIMIT ?`, after.boot, after.seq, limit)
	if err != nil {
		return nil, fmt.Errorf("spool: read pending rounds: %w", err)
	}
	defer func() { _ = rows.Close() }()
	var entries []Entry
	for rows.Next() {
		e, err := s.scanEntry(rows)
		if err != nil {
			return nil, fmt.Errorf("spool: read pending rounds: %w", err)
		}
		entries = append(entries, e)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("spool: read pending rounds: %w", err)
	}
	return entries, nil
}

func (s *Spool) scanEntry(rows *sql.Rows) (Entry, error) {
	var timeMs, uptimeMs int64
	var readings []byte
	e := Entry{Round: sensors.Round{Node: s.cfg.Node}}
	err := rows.Scan(&e.Place.boot, &e.Place.seq, &e.Round.Boot, &timeMs, &uptimeMs, &e.Round.ClockSet, &readings)
	if err != nil {
		return Entry{}, err
	}
	e.Round.Seq = uint64(e.Place.seq)
	e.Round.Time = time.UnixMilli(timeMs).UTC()
	e.Round.Uptime = time.Duration(uptimeMs) * time.Millisecond
	e.Round.Readings, err = unpackReadings(readings)
	return e, err
}

// Settle lets go of rounds the hub says it made durable; those whose time may
// yet be corrected are held instead. A receipt for a form that has since been
// corrected, or for rounds that are not here, changes nothing.
func (s *Spool) Settle(ctx context.Context, r Receipt) error {
	if err := r.check(); err != nil {
		return fmt.Errorf("spool: settle: %w", err)
	}
	statement := `DELETE FROM rounds WHERE clock_set = ? AND seq BETWEEN ? AND ? AND boot = (SELECT id FROM boots WHERE boot = ?)`
	if !r.ClockSet && r.Boot == s.cfg.Boot {
		statement = `UPDATE rounds SET stored = 1 WHERE clock_set = ? AND seq BETWEEN ? AND ? AND boot = (SELECT id FROM boots WHERE boot = ?)`
	}
	err := s.db.Tx(ctx, func(tx *sql.Tx) error {
		for _, span := range r.Spans {
			if _, err := tx.ExecContext(ctx, statement, r.ClockSet, int64(span.First), int64(span.Last), r.Boot); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("spool: settle: %w", err)
	}
	return nil
}

// Stats says how full the spool is.
func (s *Spool) Stats(ctx context.Context) (SpoolStats, error) {
	var st SpoolStats
	err := s.db.Read.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM rounds WHERE stored = 0), (SELECT count(*) FROM rounds WHERE stored = 1), (SELECT count(*) FROM rounds WHERE stored = 2), bytes, dropped FROM ledger`).
		Scan(&st.Pending, &st.Held, &st.Aside, &st.Bytes, &st.Dropped)
	if err != nil {
		return SpoolStats{}, fmt.Errorf("spool: count: %w", err)
	}
	return st, nil
}

// spooledReading is a reading on disk: its value in whole steps.
type spooledReading struct {
	Channel string `json:"c"`
	Steps   int64  `json:"n"`
	Quality string `json:"q"`
}

func packReadings(readings []sensors.Reading) ([]byte, error) {
	rows := make([]spooledReading, len(readings))
	for i, r := range readings {
		rows[i] = spooledReading{Channel: r.Channel.String(), Quality: r.Quality.String()}
		if r.Quality != sensors.Missing {
			rows[i].Steps = r.Channel.Quantity.Steps(r.Value)
		}
	}
	return json.Marshal(rows)
}

func unpackReadings(b []byte) ([]sensors.Reading, error) {
	var rows []spooledReading
	if err := json.Unmarshal(b, &rows); err != nil {
		return nil, err
	}
	readings := make([]sensors.Reading, len(rows))
	for i, row := range rows {
		c, err := sensors.ParseChannel(row.Channel)
		if err != nil {
			return nil, err
		}
		quality, err := sensors.ParseQuality(row.Quality)
		if err != nil {
			return nil, err
		}
		readings[i] = sensors.Reading{Channel: c, Value: c.Quantity.FromSteps(row.Steps), Quality: quality}
	}
	return readings, nil
}
