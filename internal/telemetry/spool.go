package telemetry

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"recoat/internal/sqldb"
	"recoat/sensors"
)

// SpoolConfig says where a node's spool is and what it may grow to.
type SpoolConfig struct {
	Path     string
	Node     string
	Boot     string // the boot that is running
	MaxBytes int64  // of rounds, as Stats counts them; at least minSpool
}

const (
	minSpool = 64 << 10
	// What the hub has of a round, in the column stored: 0 nothing, 1 all of it.
	// What it refused is set aside.
	aside = 2
	// rowBytes is what a round takes on disk beside its readings, roughly.
	rowBytes = 64
)

// spoolSchema orders rounds by the order in which boots were first seen, and
// within a boot by sequence number: neither goes back when a clock does. The
// index serves both the next rounds to send and the next ones to drop.
func spoolSchema() sqldb.Schema {
	return sqldb.Schema{ApplicationID: 0x7263_5350, Migrations: []string{`
CREATE TABLE boots(id INTEGER PRIMARY KEY AUTOINCREMENT, boot TEXT NOT NULL UNIQUE, last_seq INTEGER NOT NULL) STRICT;
CREATE TABLE rounds(
	boot INTEGER NOT NULL REFERENCES boots(id), seq INTEGER NOT NULL,
	time_ms INTEGER NOT NULL, uptime_ms INTEGER NOT NULL, clock_set INTEGER NOT NULL,
	stored INTEGER NOT NULL DEFAULT 0, readings BLOB NOT NULL, size INTEGER NOT NULL,
	PRIMARY KEY(boot, seq)) STRICT, WITHOUT ROWID;
CREATE INDEX by_place ON rounds(stored, boot, seq);
CREATE TABLE ledger(bytes INTEGER NOT NULL, dropped INTEGER NOT NULL) STRICT;
INSERT INTO ledger VALUES (0, 0);
CREATE TRIGGER rounds_in AFTER INSERT ON rounds BEGIN UPDATE ledger SET bytes = bytes + new.size; END;
CREATE TRIGGER rounds_out AFTER DELETE ON rounds BEGIN UPDATE ledger SET bytes = bytes - old.size; END;`}}
}

// Spool keeps a node's rounds on disk until the hub has made them durable.
//
// A round that was taken before the clock was set is kept even after that,
// until Correct gives it its right time and it is sent once more, or until its
// boot is over. Rounds of an earlier boot are never given another time: there
// is nothing left to reckon it from.
type Spool struct {
	db        *sqldb.DB
	cfg       SpoolConfig
	boot      int64
	appended  chan struct{}
	corrected chan struct{}
}

// OpenSpool opens or creates the spool and begins, or goes on with, a boot.
func OpenSpool(ctx context.Context, cfg SpoolConfig) (*Spool, error) {
	switch {
	case !validBoot(cfg.Boot):
		return nil, fmt.Errorf("open the spool: the boot is named %q: want 1 to %d letters, digits or '-'", cfg.Boot, maxBoot)
	case !ValidName(cfg.Node):
		return nil, fmt.Errorf("open the spool: the node is named %q: want 1 to %d of a-z, 0-9 and '-'", cfg.Node, maxName)
	case cfg.MaxBytes < minSpool:
		return nil, fmt.Errorf("open the spool: %d bytes are too few: want %d or more", cfg.MaxBytes, minSpool)
	}
	db, err := sqldb.Open(ctx, cfg.Path, spoolSchema())
	if err != nil {
		return nil, fmt.Errorf("open the spool: %w", err)
	}
	s := &Spool{db: db, cfg: cfg, appended: make(chan struct{}, 1), corrected: make(chan struct{}, 1)}
	if err := db.Tx(ctx, func(tx *sql.Tx) error { return s.beginBoot(ctx, tx) }); err != nil {
		return nil, errors.Join(fmt.Errorf("open the spool: %w", err), db.Close())
	}
	return s, nil
}

// beginBoot also lets go of what was only kept for a correction that an ended
// boot can no longer get.
func (s *Spool) beginBoot(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `INSERT INTO boots(boot, last_seq) VALUES (?, 0) ON CONFLICT DO NOTHING`, s.cfg.Boot); err != nil {
		return err
	}
	if err := tx.QueryRowContext(ctx, `SELECT id FROM boots WHERE boot = ?`, s.cfg.Boot).Scan(&s.boot); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `DELETE FROM rounds WHERE stored = 1 AND boot <> ?`, s.boot); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `UPDATE rounds SET stored = 0 WHERE stored = ?`, aside); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `DELETE FROM boots WHERE id <> ? AND id NOT IN (SELECT boot FROM rounds)`, s.boot)
	return err
}

// Close closes the file.
func (s *Spool) Close() error { return s.db.Close() }

// LastSeq returns the highest sequence number this boot has used, 0 if none:
// an agent started again within a boot goes on counting from there.
func (s *Spool) LastSeq(ctx context.Context) (uint64, error) {
	var last int64
	err := s.db.Read.QueryRowContext(ctx, `SELECT last_seq FROM boots WHERE id = ?`, s.boot).Scan(&last)
	if err != nil {
		return 0, fmt.Errorf("spool: read the last sequence number: %w", err)
	}
	return uint64(last), nil
}

// Append makes a round of the running boot durable before it returns. Its
// sequence number must be higher than any before. Where the spool is full the
// oldest rounds make room, first those the hub already holds, then those it
// refused.
func (s *Spool) Append(ctx context.Context, r sensors.Round) error {
	if err := s.checkOwn(r); err != nil {
		return fmt.Errorf("spool a round: %w", err)
	}
	readings, err := packReadings(r.Readings)
	if err != nil {
		return fmt.Errorf("spool a round: %w", err)
	}
	err = s.db.Tx(ctx, func(tx *sql.Tx) error {
		if err := s.countSeq(ctx, tx, r.Seq); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO rounds(boot, seq, time_ms, uptime_ms, clock_set, readings, size) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			s.boot, int64(r.Seq), r.Time.Round(time.Millisecond).UnixMilli(), r.Uptime.Round(time.Millisecond).Milliseconds(), r.ClockSet, readings, len(readings)+rowBytes)
		if err != nil {
			return err
		}
		return s.makeRoom(ctx, tx)
	})
	if err != nil {
		return fmt.Errorf("spool a round: %w", err)
	}
	signal(s.appended)
	return nil
}

func (s *Spool) checkOwn(r sensors.Round) error {
	if r.Node != s.cfg.Node || r.Boot != s.cfg.Boot {
		return fmt.Errorf("the round is of node %q, boot %q; this spool is for %q, %q", r.Node, r.Boot, s.cfg.Node, s.cfg.Boot)
	}
	if err := checkIdentity(r); err != nil {
		return err
	}
	if err := checkDate(packTime(r)); err != nil {
		return err
	}
	return checkReadings(r.Readings)
}

func (s *Spool) countSeq(ctx context.Context, tx *sql.Tx, seq uint64) error {
	res, err := tx.ExecContext(ctx, `UPDATE boots SET last_seq = ? WHERE id = ? AND last_seq < ?`, int64(seq), s.boot, int64(seq))
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 1 {
		return err
	}
	return fmt.Errorf("sequence number %d was used before in this boot", seq)
}

func (s *Spool) makeRoom(ctx context.Context, tx *sql.Tx) error {
	for {
		var bytes int64
		if err := tx.QueryRowContext(ctx, `SELECT bytes FROM ledger`).Scan(&bytes); err != nil || bytes <= s.cfg.MaxBytes {
			return err
		}
		dropped, err := dropOldest(ctx, tx)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE ledger SET dropped = dropped + ?`, dropped); err != nil {
			return err
		}
	}
}

// dropOldest deletes one round and returns how many the hub has never had: 1
// or 0.
func dropOldest(ctx context.Context, tx *sql.Tx) (lost int64, err error) {
	for _, stored := range []int64{1, aside, 0} {
		res, err := tx.ExecContext(ctx, `DELETE FROM rounds WHERE (boot, seq) IN (SELECT boot, seq FROM rounds WHERE stored = ? ORDER BY boot, seq LIMIT 1)`, stored)
		if err != nil {
			return 0, err
		}
		if n, err := res.RowsAffected(); err != nil || n > 0 {
			if stored != 1 {
				lost = 1
			}
			return lost, err
		}
	}
	return 0, errors.New("the spool is full of nothing")
}

// Correct gives every round of the running boot that was taken before the
// clock was set its right time, reckoned from one instant at which both the
// wall clock and the uptime are known, and makes it pending again, sent or
// not. It returns how many there were, and may be called again.
func (s *Spool) Correct(ctx context.Context, wall time.Time, uptime time.Duration) (int64, error) {
	if err := checkDate(wall.Add(-uptime).UnixMilli()); err != nil {
		return 0, fmt.Errorf("spool: correct the times: %w", err)
	}
	res, err := s.db.Write.ExecContext(ctx, `UPDATE rounds SET time_ms = ? - (? - uptime_ms), clock_set = 1, stored = 0 WHERE boot = ? AND clock_set = 0`,
		wall.Round(time.Millisecond).UnixMilli(), uptime.Round(time.Millisecond).Milliseconds(), s.boot)
	if err != nil {
		return 0, fmt.Errorf("spool: correct the times: %w", err)
	}
	n, err := res.RowsAffected()
	if n > 0 {
		signal(s.corrected)
	}
	return n, err
}

// Appended is signalled when rounds were added since it was last read.
func (s *Spool) Appended() <-chan struct{} { return s.appended }

// Corrected is signalled when rounds that may have been sent are pending
// again.
func (s *Spool) Corrected() <-chan struct{} { return s.corrected }

func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}
