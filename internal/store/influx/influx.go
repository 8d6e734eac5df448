// Package influx keeps readings in an InfluxDB server, behind a queue of its
// own on disk. FORMAT.md describes both.
package influx

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"sync"
	"time"

	"recoat/internal/sqldb"
	"recoat/internal/store"
)

// Config says where the server is and what recoat may use of it.
type Config struct {
	URL      string // http://host:8086 or https://
	Org      string // empty for a server of version 1
	Token    string // for version 1: user:password
	Readings string // the bucket of rounds; for version 1: database/retention policy
	Rollups  string // the bucket of rollups
	Queue    string // the path of the queue, an SQLite file
	Log      *slog.Logger
}

func (c Config) check() error {
	u, err := url.Parse(c.URL)
	switch {
	case err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "":
		return fmt.Errorf("the server's address %q: http://host:8086 or https://host", c.URL)
	case c.Readings == "" || c.Rollups == "" || c.Readings == c.Rollups:
		return errors.New("readings and rollups need a bucket each")
	case c.Queue == "":
		return errors.New("the queue has no path")
	}
	return nil
}

// requestTimeout bounds one request, in whole seconds.
const requestTimeout = 60

// Store is a store.Readings on a server. What Append takes is durable in the
// queue; Run, and every question, brings it to the server. One Store alone may
// write a room.
type Store struct {
	cfg    Config
	server *connection
	queue  *queue
	held   *memory
	filled chan struct{} // something was queued

	// turn is held by whoever writes to the server, and by readers together
	// while they read, so that nothing changes under a question.
	turn sync.RWMutex
}

var _ store.Readings = (*Store)(nil)

// Open opens the queue. The server need not be there yet.
func Open(ctx context.Context, cfg Config) (*Store, error) {
	if err := cfg.check(); err != nil {
		return nil, fmt.Errorf("store in InfluxDB: %w", err)
	}
	db, err := sqldb.Open(ctx, cfg.Queue, queueSchema())
	if err != nil {
		return nil, fmt.Errorf("store in InfluxDB: %w", err)
	}
	return &Store{
		cfg: cfg, queue: &queue{db}, held: newMemory(), filled: make(chan struct{}, 1),
		server: newConnection(cfg),
	}, nil
}

// Close closes the queue and the connection. What waits in the queue is written
// by the next Run.
func (s *Store) Close() error {
	s.server.close()
	return s.queue.db.Close()
}

// Stats says how the queue stands.
func (s *Store) Stats(ctx context.Context) (Stats, error) { return s.queue.stats(ctx) }

// read runs do after all that was appended before has reached the server, and
// while nothing is written there.
func (s *Store) read(ctx context.Context, do func() error) error {
	if err := s.drain(ctx); err != nil {
		return err
	}
	for !s.turn.TryRLock() {
		if err := pause(ctx, lockPause); err != nil {
			return err
		}
	}
	defer s.turn.RUnlock()
	return do()
}

// write runs do alone. It asks for its turn again and again and waits in no
// line, because a reader that waited behind it might be its own cause.
func (s *Store) write(ctx context.Context, do func() error) error {
	for !s.turn.TryLock() {
		if err := pause(ctx, lockPause); err != nil {
			return err
		}
	}
	defer s.turn.Unlock()
	return do()
}

const lockPause = 2 * time.Millisecond

// pause waits, or returns the reason for which ctx ended.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
