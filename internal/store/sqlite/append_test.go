package sqlite

import (
	"context"
	"errors"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"recoat/internal/sqldb"
	"recoat/internal/store"
	"recoat/sensors"
)

func count(t *testing.T, r store.Readings) int {
	t.Helper()
	n := 0
	err := r.Rounds(t.Context(), store.Query{Room: "attic", From: dusk, To: dusk.AddDate(1, 0, 0)}, func(sensors.Round) error {
		n++
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func one(n int) []sensors.Round { return []sensors.Round{nightRound("bench", n)} }

// waitQueued returns once n appends wait for the next commit.
func waitQueued(s *Store, n int) {
	for {
		s.mu.Lock()
		queued := len(s.queued)
		s.mu.Unlock()
		if queued == n {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

func TestAppendsThatWaitShareOneCommit(t *testing.T) {
	s := openNew(t)
	const callers = 20
	s.turn <- struct{}{}
	var appends sync.WaitGroup
	for n := range callers {
		appends.Go(func() {
			if err := s.Append(t.Context(), "attic", one(n)); err != nil {
				t.Error(err)
			}
		})
	}
	waitQueued(s, callers)
	// The turn is still taken, so only this one commit can answer them.
	s.commit()
	appends.Wait()
	<-s.turn
	if got := count(t, s); got != callers {
		t.Fatalf("%d rounds of %d", got, callers)
	}
}

func TestCancelledWhileWaitingStoresNothing(t *testing.T) {
	s := openNew(t)
	s.turn <- struct{}{}
	ctx, cancel := context.WithCancel(t.Context())
	outcome := make(chan error, 1)
	go func() { outcome <- s.Append(ctx, "attic", one(0)) }()
	waitQueued(s, 1)
	cancel()
	if err := <-outcome; !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	<-s.turn
	if err := s.Append(t.Context(), "attic", one(1)); err != nil {
		t.Fatal(err)
	}
	if got := count(t, s); got != 1 {
		t.Fatalf("%d rounds, want the one that was not cancelled", got)
	}
}

// TestCancelledTooLate cancels an append that another one's commit has taken
// already: it is stored, so it must be acknowledged.
func TestCancelledTooLate(t *testing.T) {
	s := openNew(t)
	s.turn <- struct{}{}
	ctx, cancel := context.WithCancel(t.Context())
	outcome := make(chan error, 1)
	go func() { outcome <- s.Append(ctx, "attic", one(0)) }()
	waitQueued(s, 1)
	s.mu.Lock()
	taken := s.queued
	s.queued = nil
	s.mu.Unlock()
	cancel()
	taken[0].done <- nil
	if err := <-outcome; err != nil {
		t.Fatal(err)
	}
	<-s.turn
}

func TestAppendAfterCloseIsAnError(t *testing.T) {
	s := openNew(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := s.Append(t.Context(), "attic", one(0)); err == nil {
		t.Fatal("acknowledged by a closed store")
	}
}

// TestReadersAndWriters has them all at it at once. Each Append holds two
// rounds, so a reader that sees an odd number saw half of one.
func TestReadersAndWriters(t *testing.T) {
	s := openNew(t)
	const writers, appends = 4, 12
	ctx, stop := context.WithCancel(t.Context())
	var readers, writing sync.WaitGroup
	for range 4 {
		readers.Go(func() {
			for last := 0; ctx.Err() == nil; {
				last = readAll(t, s, last)
			}
		})
	}
	for w := range writers {
		writing.Go(func() {
			node := "node-" + strconv.Itoa(w)
			for n := range appends {
				// The second was sent before with an older time.
				was := nightRound(node, 2*n+1)
				was.Time, was.ClockSet = was.Time.Add(-time.Hour), false
				pair := []sensors.Round{nightRound(node, 2*n), was}
				corrected := []sensors.Round{nightRound(node, 2*n), nightRound(node, 2*n+1)}
				if err := errors.Join(s.Append(t.Context(), "attic", pair), s.Append(t.Context(), "attic", corrected)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writing.Wait()
	stop()
	readers.Wait()
	if got := readAll(t, s, 0); got != 2*writers*appends {
		t.Fatalf("%d rounds of %d", got, 2*writers*appends)
	}
}

// readAll asks everything once and returns the number of rounds, which must be
// even and no less than before.
func readAll(t *testing.T, s *Store, before int) int {
	n := 0
	var last sensors.Round
	from, to := dusk.AddDate(0, 0, -1), dusk.AddDate(0, 0, 1)
	err := s.Rounds(t.Context(), store.Query{Room: "attic", From: from, To: to}, func(r sensors.Round) error {
		if n > 0 && store.Compare(last, r) >= 0 {
			t.Errorf("%v after %v", r, last)
		}
		n, last = n+1, r
		return nil
	})
	extents, other := s.Extents(t.Context())
	err = errors.Join(err, other, s.Check(t.Context()))
	for _, e := range extents {
		_, other := s.Rollups(t.Context(), e.Series, time.Hour, from, to)
		err = errors.Join(err, other)
	}
	if err != nil {
		t.Error(err)
	}
	if n%2 != 0 || n < before {
		t.Errorf("%d rounds seen after %d", n, before)
	}
	return n
}

func TestEveryCommitIsSynced(t *testing.T) {
	var level int
	if err := openNew(t).db.Write.QueryRow(`PRAGMA synchronous`).Scan(&level); err != nil || level != 2 {
		t.Fatalf("synchronous is %d, want 2 (FULL): %v", level, err)
	}
}

// TestNoNumberLeftForABoot comes to the last boot that a round's id can hold.
func TestNoNumberLeftForABoot(t *testing.T) {
	s := openNew(t)
	if err := s.Append(t.Context(), "attic", one(0)); err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Write.Exec(`INSERT INTO boot(id, node, name) VALUES (?, 1, 'last')`, maxBoot); err != nil {
		t.Fatal(err)
	}
	r := nightRound("bench", 1)
	r.Boot = "last"
	if err := s.Append(t.Context(), "attic", []sensors.Round{r}); err != nil {
		t.Fatal(err)
	}
	r.Boot = "one more"
	if err := s.Append(t.Context(), "attic", []sensors.Round{r}); err == nil || !strings.Contains(err.Error(), "boots") {
		t.Fatal(err)
	}
	if got := count(t, s); got != 2 {
		t.Fatalf("%d rounds, want 2", got)
	}
}

func TestOpenTwice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "readings.db")
	first := openAt(t, path)
	second := openAt(t, path)
	for n := range 20 {
		if err := errors.Join(first.Append(t.Context(), "attic", one(2*n)), second.Append(t.Context(), "attic", one(2*n+1))); err != nil {
			t.Fatal(err)
		}
	}
	if got := count(t, first); got != 40 {
		t.Fatalf("%d rounds of 40", got)
	}
}

// A backup is made while four write and four read: it is sound, and nobody is
// told that the file is busy.
func TestABackupBesideWritersAndReaders(t *testing.T) {
	s := openNew(t)
	fill(t, s, 2000, "door")
	ctx, stop := context.WithCancel(t.Context())
	var all sync.WaitGroup
	var written [4]int
	for w := range written {
		all.Go(func() {
			for ; ctx.Err() == nil; written[w]++ {
				r := nightRound("node-"+strconv.Itoa(w), written[w])
				if err := s.Append(t.Context(), "attic", []sensors.Round{r}); err != nil {
					t.Error(err)
					return
				}
			}
		})
		all.Go(func() {
			for ctx.Err() == nil {
				if n := count(t, s); n < 2000 {
					t.Errorf("%d rounds", n)
				}
			}
		})
	}
	for n := range 3 {
		copied := filepath.Join(t.TempDir(), strconv.Itoa(n), "readings.db")
		if err := sqldb.CopyTo(t.Context(), s.db.Path, copied); err != nil {
			t.Error(err)
			continue
		}
		other := openAt(t, copied)
		if err := other.Check(t.Context()); err != nil || count(t, other) < 2000 {
			t.Errorf("copy %d: %v", n, err)
		}
	}
	stop()
	all.Wait()
	if got, want := count(t, s), 2000+written[0]+written[1]+written[2]+written[3]; got != want {
		t.Errorf("%d rounds of %d", got, want)
	}
}
