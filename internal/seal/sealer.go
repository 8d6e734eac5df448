package seal

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"recoat/internal/shop"
	"recoat/internal/store"
	"recoat/sensors"
)

// Journal is what is sealed of the journal.
type Journal interface {
	EveryRow(ctx context.Context, each func(shop.Row) error) (newest int64, err error)
	Changes(ctx context.Context, seq int64, each func(shop.Change) error) error
}

// Sealer seals what is in a store and a journal.
type Sealer struct {
	Log      *Log
	Readings store.Readings
	Journal  Journal
	Now      func() time.Time
	Report   *slog.Logger
	Keep     time.Duration // how long the store keeps readings; 0: for ever
}

// since is the first day of which nothing is cleared away yet.
func (s *Sealer) since() string { return Since(s.Now(), s.Keep) }

// Since returns the first day that a store which keeps readings so long (0: for
// ever) still holds whole, as a Verifier takes it.
func Since(now time.Time, keep time.Duration) string {
	if keep == 0 {
		return ""
	}
	return DayOf(now.Add(24*time.Hour - keep))
}

// How often what is due is sealed, how long after its end a day is, and how
// often the journal is looked at. A day that ended is sealed at the next look.
const (
	every = 10 * time.Minute
	grace = 15 * time.Minute
)

// Run seals what is due until ctx ends.
func (s *Sealer) Run(ctx context.Context) error {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := s.Due(ctx); err != nil && ctx.Err() == nil {
			s.Report.Error("seal readings and journal, will try again", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
	}
}

// Due seals every day that has ended and is not sealed, or to which rounds came
// since, and the journal if it changed.
func (s *Sealer) Due(ctx context.Context) error {
	extents, err := s.Readings.Extents(ctx)
	if err != nil {
		return err
	}
	var errs []error
	for _, room := range rooms(extents) {
		errs = append(errs, s.dueIn(ctx, room, extents))
	}
	return errors.Join(append(errs, s.journal(ctx))...)
}

func rooms(extents []store.Extent) []string {
	var all []string
	for _, e := range extents {
		if !slices.Contains(all, e.Room) {
			all = append(all, e.Room)
		}
	}
	return all
}

func (s *Sealer) dueIn(ctx context.Context, room string, extents []store.Extent) error {
	counts, err := readingsByDay(ctx, s.Readings, room, extents)
	if err != nil {
		return err
	}
	sealedDays, err := s.newest(ctx, room)
	if err != nil {
		return err
	}
	for _, day := range sortedDays(counts) {
		_, end, err := span(day)
		if err != nil {
			return err
		}
		held, done := sealedDays[day]
		if s.Now().Before(end.Add(grace)) || day < s.since() || done && held.Readings == counts[day] {
			continue
		}
		if _, err := s.Day(ctx, room, day); err != nil {
			return err
		}
	}
	return nil
}

// readingsByDay counts a room's readings on each day, from the rollups, which
// is quick: a count that changed is how late rounds are noticed.
func readingsByDay(ctx context.Context, from store.Readings, room string, extents []store.Extent) (map[string]int64, error) {
	counts := map[string]int64{}
	for _, e := range extents {
		if e.Room != room {
			continue
		}
		hours, err := from.Rollups(ctx, e.Series, time.Hour, e.First.Truncate(time.Hour), e.Last.Add(time.Hour))
		if err != nil {
			return nil, err
		}
		for _, h := range hours {
			counts[DayOf(h.Start)] += h.Good + h.Other
		}
	}
	return counts, nil
}

func sortedDays(counts map[string]int64) []string {
	days := make([]string, 0, len(counts))
	for day := range counts {
		days = append(days, day)
	}
	slices.Sort(days)
	return days
}

// newest returns the newest seal of each day.
func (s *Sealer) newest(ctx context.Context, room string) (map[string]Seal, error) {
	seals, err := s.Log.Newest(ctx, room)
	if err != nil {
		return nil, err
	}
	all := map[string]Seal{}
	for _, x := range seals {
		all[x.Day] = x
	}
	return all, nil
}

// Day seals one room's day as it is now, and returns its newest seal. A day
// that is as it was sealed gets no other.
func (s *Sealer) Day(ctx context.Context, room, day string) (Seal, error) {
	now, readings, err := readDay(ctx, s.Readings, room, day)
	if err != nil {
		return Seal{}, fmt.Errorf("seal %s of %s: %w", day, room, err)
	}
	all, err := s.newest(ctx, room)
	if err != nil {
		return Seal{}, err
	}
	before, again := all[day]
	if again && before.Root == now.Root || !again && now.Count == 0 {
		return before, nil
	}
	next := Seal{Room: room, Day: day, Count: now.Count, Root: now.Root, Readings: readings, Made: s.stamp()}
	if again {
		x, err := s.Log.index(ctx, before)
		if err != nil {
			return Seal{}, err
		}
		d := x.compare(now.Index)
		if err := d.settle(ctx, s.Readings, room, now.Index); err != nil {
			return Seal{}, fmt.Errorf("seal %s of %s: %w", day, room, err)
		}
		next.amend(d)
	}
	return s.Log.append(ctx, next, now.Index, nil)
}

func (s *Sealer) stamp() string { return s.Now().UTC().Format("2006-01-02T15:04:05.000Z") }

// mostNamed bounds how many rounds a seal names.
const mostNamed = 20

// amend says what is different since the day's seal before.
func (s *Seal) amend(d Difference) {
	s.Added, s.Dated = int64(len(d.Added)), int64(len(d.Dated))
	for _, id := range d.Changed {
		s.unexplained(id.String() + " was changed")
	}
	for _, id := range d.Removed {
		s.unexplained(id.String() + " is gone")
	}
}

func (s *Seal) unexplained(what string) {
	switch n := len(s.Unexplained); {
	case n < mostNamed:
		s.Unexplained = append(s.Unexplained, what)
	case n == mostNamed:
		s.Unexplained = append(s.Unexplained, "and more")
	}
}

// readDay reads a day's rounds and counts their readings.
func readDay(ctx context.Context, from store.Readings, room, day string) (Day, int64, error) {
	begin, end, err := span(day)
	if err != nil {
		return Day{}, 0, err
	}
	var rounds []sealed
	var readings int64
	err = from.Rounds(ctx, store.Query{Room: room, From: begin, To: end}, func(r sensors.Round) error {
		rounds = append(rounds, sealed{idOf(r), r.ClockSet, OfRound(r)})
		readings += int64(len(r.Readings))
		return nil
	})
	return dayOf(rounds), readings, err
}

// journal seals the journal if anything in it is different.
func (s *Sealer) journal(ctx context.Context) error {
	_, err := s.SealJournal(ctx)
	return err
}

// SealJournal seals the journal as it is now, and returns its newest seal.
func (s *Sealer) SealJournal(ctx context.Context) (Seal, error) {
	rows, newest, err := journalRows(ctx, s.Journal)
	if err != nil {
		return Seal{}, fmt.Errorf("seal the journal: %w", err)
	}
	before, again, err := s.Log.Journal(ctx)
	if err != nil {
		return Seal{}, err
	}
	root := rootOf(rows)
	if again && before.Root == root {
		return before, nil
	}
	next := Seal{Day: DayOf(s.Now()), Count: int64(len(rows)), Root: root, Last: newest, Made: s.stamp()}
	if again {
		old, err := s.Log.rows(ctx)
		if err != nil {
			return Seal{}, err
		}
		silent, _, err := compareRows(ctx, s.Journal, before, old, rows)
		if err != nil {
			return Seal{}, err
		}
		for _, what := range silent {
			next.unexplained(what)
		}
	}
	return s.Log.append(ctx, next, nil, rows)
}

func journalRows(ctx context.Context, j Journal) (map[rowKey]Digest, int64, error) {
	rows := map[rowKey]Digest{}
	newest, err := j.EveryRow(ctx, func(r shop.Row) error {
		rows[rowKey{r.Table, r.Key}] = sha256.Sum256(r.Values)
		return nil
	})
	return rows, newest, err
}
