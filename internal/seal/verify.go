package seal

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"recoat/internal/store"
)

// Problem is something that is not as it was sealed.
type Problem struct {
	Room   string `json:"room"` // empty: the journal, or the chain itself
	Day    string `json:"day"`
	Record string `json:"record"` // what it is about, such as "round 17 of bench (boot 4a)"
	What   string `json:"what"`
}

// String says the problem in a sentence.
func (p Problem) String() string {
	where := "journal"
	if p.Room != "" {
		where = p.Room
	}
	return fmt.Sprintf("%s, %s: %s %s", where, p.Day, p.Record, p.What)
}

// Finding is what a verification found.
type Finding struct {
	Seals    int       `json:"seals"`
	Days     int       `json:"days"` // of readings that were read and compared
	Rounds   int64     `json:"rounds"`
	Rows     int64     `json:"rows"` // of the journal
	Problems []Problem `json:"problems"`
	// Notes are not problems: rounds that came after a day was sealed, changes
	// of the journal that are not sealed yet, days that are not.
	Notes []string `json:"notes"`
}

// OK reports whether everything is as it was sealed.
func (f Finding) OK() bool { return len(f.Problems) == 0 }

// Verifier compares a store and a journal with their seals.
type Verifier struct {
	Log      *Log
	Readings store.Readings
	Journal  Journal
	// Since is the day before which readings are cleared away for their age, and
	// a day more, as a day is cleared bit by bit; empty: all are kept.
	Since string
	// Kept reports whether readings of a room and stretch are kept for a coat's
	// record, however old they are; nil: none are.
	Kept func(room string, from, to time.Time) bool
}

// All verifies the chain, every sealed day and the journal. The error is of what
// could not be read at all.
func (v Verifier) All(ctx context.Context) (Finding, error) {
	seals, err := v.Log.Seals(ctx)
	if err != nil {
		return Finding{}, err
	}
	f := Finding{Seals: len(seals), Problems: []Problem{}, Notes: []string{}}
	f.chain(seals)
	newest := newestOf(seals)
	for _, key := range slices.Sorted(maps.Keys(newest)) {
		if s := newest[key]; s.Room != "" {
			if err := v.day(ctx, &f, s); err != nil {
				return f, err
			}
		}
	}
	if err := v.unsealed(ctx, &f, newest); err != nil {
		return f, err
	}
	return f, v.journal(ctx, &f)
}

// chain checks that the seals hold together, and repeats what they say of
// earlier alterations.
func (f *Finding) chain(seals []Seal) {
	before := Seal{}
	for _, s := range seals {
		record := fmt.Sprintf("seal %d", s.Seq)
		if err := s.Check(); err != nil {
			f.problem(s, record, "was altered: "+err.Error())
		}
		if err := s.Follows(before); err != nil {
			f.problem(s, record, "does not follow the one before: "+err.Error())
		}
		for _, what := range s.Unexplained {
			f.problem(s, what, "before it was sealed on "+s.Made)
		}
		if s.Added > 0 {
			f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: %d rounds came after the day had been sealed; they were sealed on %s", s.Room, s.Day, s.Added, s.Made))
		}
		if s.Dated > 0 {
			f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: the clock of %d rounds was set afterwards; sealed on %s", s.Room, s.Day, s.Dated, s.Made))
		}
		before = s
	}
}

func (f *Finding) problem(s Seal, record, what string) {
	f.Problems = append(f.Problems, Problem{s.Room, s.Day, record, what})
}

func newestOf(seals []Seal) map[string]Seal {
	newest := map[string]Seal{}
	for _, s := range seals {
		newest[s.Room+" "+s.Day] = s
	}
	return newest
}

// day compares a room's day with its seal.
func (v Verifier) day(ctx context.Context, f *Finding, s Seal) error {
	now, _, err := readDay(ctx, v.Readings, s.Room, s.Day)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	f.Days++
	f.Rounds += now.Count
	switch {
	case err != nil:
		f.problem(s, "a record", "cannot be read: "+err.Error())
		return nil
	case now.Root == s.Root:
		return nil
	}
	x, err := v.Log.index(ctx, s)
	if err != nil {
		return err
	}
	if x == nil && s.Count > 0 {
		f.problem(s, "the day", "is not as it was sealed; the index that would name the round is gone or altered too")
		return nil
	}
	d := x.compare(now.Index)
	if v.letGo(s) {
		gone := d.forget(now.Index)
		if gone > 0 {
			f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: the store has let go of %d of its %d rounds, which are older than what is kept", s.Room, s.Day, gone, s.Count))
		}
		if gone > 0 && len(d.Added)+len(d.Changed)+len(d.Dated) == 0 {
			return nil
		}
	}
	if err := d.settle(ctx, v.Readings, s.Room, now.Index); err != nil {
		f.problem(s, "a record", "cannot be looked for on other days: "+err.Error())
		return ctx.Err()
	}
	f.difference(s, d)
	return nil
}

// letGo reports whether rounds of a sealed day may be gone for their age.
func (v Verifier) letGo(s Seal) bool {
	from, to, err := span(s.Day)
	return err == nil && s.Day < v.Since && (v.Kept == nil || !v.Kept(s.Room, from, to))
}

// difference turns what differs into problems, and late rounds into a note.
func (f *Finding) difference(s Seal, d Difference) {
	before := len(f.Problems)
	for _, id := range d.Changed {
		f.problem(s, id.String(), "is not as it was sealed")
	}
	for _, id := range d.Removed {
		f.problem(s, id.String(), "is gone")
	}
	if n := len(d.Dated); n > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: the clock of %d rounds was set since; not sealed anew yet", s.Room, s.Day, n))
	}
	if n := len(d.Added); n > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: %d rounds came since, the first %s; not sealed yet", s.Room, s.Day, n, d.Added[0]))
	}
	if before == len(f.Problems) && len(d.Added)+len(d.Dated) == 0 {
		f.problem(s, "the day", "is not as it was sealed, in a round that its index does not tell apart")
	}
}

// unsealed notes days that hold readings and have no seal.
func (v Verifier) unsealed(ctx context.Context, f *Finding, newest map[string]Seal) error {
	extents, err := v.Readings.Extents(ctx)
	if err != nil {
		f.Problems = append(f.Problems, Problem{Record: "the store", What: "cannot be read: " + err.Error()})
		return ctx.Err()
	}
	for _, room := range rooms(extents) {
		counts, err := readingsByDay(ctx, v.Readings, room, extents)
		if err != nil {
			return err
		}
		for _, day := range sortedDays(counts) {
			if _, done := newest[room+" "+day]; !done {
				f.Notes = append(f.Notes, fmt.Sprintf("%s, %s: not sealed yet: nothing can be said of it", room, day))
			}
		}
	}
	return nil
}

// journal compares the journal with its newest seal.
func (v Verifier) journal(ctx context.Context, f *Finding) error {
	s, done, err := v.Log.Journal(ctx)
	if err != nil {
		return err
	}
	now, _, err := journalRows(ctx, v.Journal)
	if err != nil {
		f.problem(s, "a row", "cannot be read: "+err.Error())
		return ctx.Err()
	}
	f.Rows = int64(len(now))
	if !done {
		f.Notes = append(f.Notes, "the journal is not sealed yet: nothing can be said of it")
		return nil
	}
	old, err := v.Log.rows(ctx)
	if err != nil {
		return err
	}
	if rootOf(old) != s.Root {
		f.problem(s, "the list of sealed rows", "is not as it was sealed: what changed in the journal cannot be named")
	}
	silent, told, err := compareRows(ctx, v.Journal, s, old, now)
	if err != nil {
		return err
	}
	for _, what := range silent {
		f.problem(s, what, "without a record of it")
	}
	if len(told) > 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("journal: changed since it was last sealed, as its record of changes says: %s", few(told)))
	}
	return nil
}

// few joins names, the first of many.
func few(all []string) string {
	out := ""
	for i, s := range all {
		if i == 8 {
			return out + fmt.Sprintf(" and %d more", len(all)-i)
		}
		if i > 0 {
			out += ", "
		}
		out += s
	}
	return out
}
