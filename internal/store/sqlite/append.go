package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"runtime"
	"slices"

	"recoat/internal/store"
	"recoat/sensors"
)

// request is one Append waiting to be committed.
type request struct {
	room   string
	rounds []sensors.Round
	done   chan error // takes one answer without blocking
}

// Append implements store.Readings. Calls that wait for the disk at the same
// time share one transaction: whoever gets the turn commits for all of them.
func (s *Store) Append(ctx context.Context, room string, rounds []sensors.Round) error {
	const op = "store readings"
	kept, err := store.Canonical(room, rounds)
	if err != nil {
		return fmt.Errorf("%s: %w", op, err)
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("%s: %w", op, err)
	}
	r := &request{room: room, rounds: kept, done: make(chan error, 1)}
	s.enqueue(r)
	select {
	case err = <-r.done:
	case s.turn <- struct{}{}:
		runtime.Gosched() // those that are about to ask for a commit too, share it
		s.commit()
		<-s.turn
		err = <-r.done
	case <-ctx.Done():
		if s.withdraw(r) {
			return fmt.Errorf("%s: %w", op, ctx.Err())
		}
		// The commit has begun: only its outcome is a true answer.
		err = <-r.done
	}
	// The caller's context did not bound the commit, so it explains nothing.
	return explain(context.WithoutCancel(ctx), op, err)
}

func (s *Store) enqueue(r *request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.queued = append(s.queued, r)
}

func (s *Store) withdraw(r *request) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := slices.Index(s.queued, r)
	if i < 0 {
		return false
	}
	s.queued = slices.Delete(s.queued, i, i+1)
	return true
}

// commit stores all that is queued and answers each. It runs to its end
// whoever is cancelled, since it speaks for other callers too.
func (s *Store) commit() {
	s.mu.Lock()
	taken := s.queued
	s.queued = nil
	s.mu.Unlock()
	if len(taken) == 0 {
		return
	}
	ctx := context.Background()
	var b *batch
	err := s.db.Tx(ctx, func(tx *sql.Tx) error {
		b = newBatch(ctx, tx, s)
		for _, r := range taken {
			for i := range r.rounds {
				if err := b.add(r.room, &r.rounds[i]); err != nil {
					return err
				}
			}
		}
		return b.finish()
	})
	if err == nil {
		s.remember(b.ids)
	}
	for _, r := range taken {
		r.done <- err
	}
}

// remembered bounds what is known by heart of names.
const remembered = 1 << 15

// remember takes up the numbers that a commit looked up or gave. They never
// change.
func (s *Store) remember(ids map[name]int64) {
	if len(s.ids)+len(ids) > remembered {
		clear(s.ids)
	}
	maps.Copy(s.ids, ids)
}
