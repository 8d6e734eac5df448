package shop

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop/schedule"
)

// Schedules returns the parts of a piece with their schedules and what of them
// is done, for schedule.NextSteps. A part without a schedule has no steps.
func (j *Journal) Schedules(ctx context.Context, piece string) ([]schedule.Part, error) {
	n, err := pieceIDs.number(piece)
	if err != nil {
		return nil, fmt.Errorf("read the schedules: %w", err)
	}
	parts, err := schedules(ctx, j.db.Read, n)
	if err == nil && len(parts) == 0 {
		err = pieceIDs.missing(piece)
	}
	if err != nil {
		return nil, fmt.Errorf("read the schedules: %w", err)
	}
	return parts, nil
}

// MostOpen is how many pieces of a room OpenPieces returns: no bench holds more.
const MostOpen = 40

// OpenPieces returns the ids of the newest pieces with a part in a room, those
// that were delivered or archived not, in the order in which they were added.
func (j *Journal) OpenPieces(ctx context.Context, room string) ([]string, error) {
	all, err := query(ctx, j.db.Read, "read the pieces in the room", func(scan scanner) (string, error) {
		var n int64
		err := scan(&n)
		return pieceIDs.of(n), err
	}, `SELECT id FROM piece WHERE archived IS NULL AND delivered IS NULL
AND EXISTS (SELECT 1 FROM part WHERE part.piece = piece.id AND +part.room = ?) ORDER BY id DESC LIMIT ?`, room, MostOpen) // the + keeps it from going through all parts of the room for each piece
	slices.Reverse(all)
	return all, err
}

// SetSchedule gives a part its steps in place of those that it had. Template
// is the id of the one that they began as; it may be empty. A step that is done
// must stay, and be what it was.
func (j *Journal) SetSchedule(ctx context.Context, part, template string, steps []schedule.Step, at time.Time) error {
	piece, number, err := partNumbers(part)
	if err != nil {
		return fmt.Errorf("set the schedule: %w", err)
	}
	if steps, err = cleanSteps(steps); err != nil {
		return err
	}
	if template, err = cleanText("the template", template, LongestName); err != nil {
		return err
	}
	text, err := json.Marshal(steps)
	if err != nil {
		return fmt.Errorf("set the schedule: %w", err)
	}
	_, err = j.change(ctx, setSchedule, at, func(tx *sql.Tx) (step, error) {
		before, after, err := replaced(ctx, tx, piece, number, steps)
		if err != nil {
			return step{}, err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO schedule(piece, part, template, steps) VALUES (?, ?, ?, ?)
ON CONFLICT(piece, part) DO UPDATE SET template = excluded.template, steps = excluded.steps`, piece, number, template, string(text))
		return step{part, before, after}, err
	})
	return err
}

// replaced checks the schedules of a piece with one part's replaced, and
// returns that part's steps before and after.
func replaced(ctx context.Context, tx *sql.Tx, piece, number int64, steps []schedule.Step) (before, after []schedule.Step, err error) {
	parts, err := schedules(ctx, tx, piece)
	if err != nil {
		return nil, nil, err
	}
	for i := range parts {
		p := &parts[i]
		if int64(p.Number) != number {
			continue
		}
		if err := keepsDone(p, steps); err != nil {
			return nil, nil, err
		}
		before, p.Steps = p.Steps, steps
		if err := schedule.Check(parts); err != nil {
			return nil, nil, &InputError{"the schedule", "cannot be: " + err.Error()}
		}
		if err := known(ctx, tx, steps); err != nil {
			return nil, nil, err
		}
		return before, steps, nil
	}
	return nil, nil, fmt.Errorf("no part has the id %s: %w", quantity.Quote(partID(piece, number)), ErrNotFound)
}

// keepsDone refuses steps without one that is done, or with another in its
// place.
func keepsDone(p *schedule.Part, steps []schedule.Step) error {
	for _, old := range p.Steps {
		if _, left := p.Marks[old.ID]; !left {
			continue
		}
		kept := false
		for _, s := range steps {
			kept = kept || s.ID == old.ID && s.Kind == old.Kind
		}
		if !kept {
			return &InputError{"the schedule", fmt.Sprintf("leaves out step %d (%s), which is done: keep it, or undo it first", old.ID, old.Title())}
		}
	}
	return nil
}

// known refuses steps with products that are not in the journal.
func known(ctx context.Context, tx *sql.Tx, steps []schedule.Step) error {
	for _, s := range steps {
		if s.Product == "" {
			continue
		}
		if _, _, err := newestVersion(ctx, tx, s.Product); err != nil {
			return err
		}
	}
	return nil
}

// cleanSteps cleans the texts of steps and gives an id to those without one.
func cleanSteps(steps []schedule.Step) ([]schedule.Step, error) {
	all := make([]schedule.Step, len(steps))
	highest := 0
	for _, s := range steps {
		highest = max(highest, s.ID)
	}
	for i, s := range steps {
		var err error
		if s.Words, err = cleanText("the step's words", s.Words, schedule.LongestWords); err != nil {
			return nil, err
		}
		s.Waits = append([]schedule.Wait{}, s.Waits...)
		for k := range s.Waits {
			if s.Waits[k].Until, err = cleanText("what the step waits for", s.Waits[k].Until, schedule.LongestWords); err != nil {
				return nil, err
			}
		}
		if s.ID == 0 {
			highest++
			s.ID = highest
		}
		all[i] = s
	}
	return all, nil
}

// TickStep marks a step as done, or as skipped, at an instant. A coat's step is
// done by applying the coat; it can only be skipped.
func (j *Journal) TickStep(ctx context.Context, part string, id int, done time.Time, skipped bool, at time.Time) error {
	if err := checkTime("the time of the step", done, at); err != nil {
		return err
	}
	what := "tick the step"
	if skipped {
		what = "skip the step"
	}
	return j.markStep(ctx, what, part, id, at, func(tx *sql.Tx, piece, number int64, s schedule.Step, _ schedule.Mark, left bool) error {
		switch {
		case left:
			return &InputError{"the step " + s.Title(), "is done already"}
		case s.Kind.Coats() && !skipped:
			return &InputError{"the step " + s.Title(), "is done by applying its coat: apply it, or skip the step"}
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO tick(piece, part, step, at, skipped) VALUES (?, ?, ?, ?, ?)`, piece, number, id, done.UnixMilli(), skipped)
		return err
	})
}

// UntickStep takes back that a step was ticked or skipped. One that a coat did
// is taken back by undoing the coat.
func (j *Journal) UntickStep(ctx context.Context, part string, id int, at time.Time) error {
	return j.markStep(ctx, "untick the step", part, id, at, func(tx *sql.Tx, piece, number int64, s schedule.Step, mark schedule.Mark, left bool) error {
		switch {
		case !left:
			return &InputError{"the step " + s.Title(), "is not done: there is nothing to take back"}
		case mark.Coat != "":
			return &InputError{"the step " + s.Title(), "was done by the coat " + mark.Coat + ": undo that"}
		}
		_, err := tx.ExecContext(ctx, `UPDATE tick SET undone = ? WHERE piece = ? AND part = ? AND step = ? AND undone IS NULL`, at.UnixMilli(), piece, number, id)
		return err
	})
}

type marker func(tx *sql.Tx, piece, number int64, s schedule.Step, mark schedule.Mark, left bool) error

// markStep changes the mark of a step; the subject of the change is the part.
func (j *Journal) markStep(ctx context.Context, what, part string, id int, at time.Time, set marker) error {
	piece, number, err := partNumbers(part)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	_, err = j.change(ctx, what, at, func(tx *sql.Tx) (step, error) {
		s, mark, left, err := stepOf(ctx, tx, piece, number, id)
		if err != nil {
			return step{}, err
		}
		if err := set(tx, piece, number, s, mark, left); err != nil {
			return step{}, err
		}
		_, now, still, err := stepOf(ctx, tx, piece, number, id)
		return step{part, marked(id, mark, left), marked(id, now, still)}, err
	})
	return err
}

// marked is a mark for the record of changes, nil for none.
func marked(id int, m schedule.Mark, left bool) any {
	if !left {
		return nil
	}
	return struct {
		Step    int       `json:"step"`
		Done    time.Time `json:"done,omitzero"`
		Skipped time.Time `json:"skipped,omitzero"`
	}{id, m.Done, m.Skipped}
}

func stepOf(ctx context.Context, tx *sql.Tx, piece, number int64, id int) (schedule.Step, schedule.Mark, bool, error) {
	parts, err := schedules(ctx, tx, piece)
	if err != nil {
		return schedule.Step{}, schedule.Mark{}, false, err
	}
	for _, p := range parts {
		for _, s := range p.Steps {
			if int64(p.Number) == number && s.ID == id {
				mark, left := p.Marks[id]
				return s, mark, left, nil
			}
		}
	}
	return schedule.Step{}, schedule.Mark{}, false, fmt.Errorf("the part %s has no step %d: %w", partID(piece, number), id, ErrNotFound)
}

// step is the step of the schedule that a coat is, 0 for none.
func (a *Application) step(ctx context.Context, tx *sql.Tx, piece, number int64) (int, error) {
	switch {
	case a.Step == NoStep:
		return 0, nil
	case a.Step > 0:
		s, _, left, err := stepOf(ctx, tx, piece, number, a.Step)
		switch {
		case err != nil:
			return 0, err
		case left:
			return 0, &InputError{"the step " + s.Title(), "is done already: choose another, or none"}
		case !s.Kind.Coats():
			return 0, &InputError{"the step " + s.Title(), "puts no coat on: choose another, or none"}
		}
		return a.Step, nil
	}
	parts, err := schedules(ctx, tx, piece)
	if err != nil {
		return 0, err
	}
	for _, p := range parts {
		if int64(p.Number) != number {
			continue
		}
		if s, ok := p.NextCoat(a.Product); ok {
			return s.ID, nil
		}
	}
	return 0, nil
}

// schedules reads the parts of a piece with their steps and marks.
func schedules(ctx context.Context, from querier, piece int64) ([]schedule.Part, error) {
	parts, err := queryRows(ctx, from, readSchedule, `SELECT part.number, part.name, coalesce(schedule.template, ''), coalesce(schedule.steps, '[]') FROM part
LEFT JOIN schedule ON schedule.piece = part.piece AND schedule.part = part.number WHERE part.piece = ? ORDER BY part.number`, piece)
	if err != nil {
		return nil, err
	}
	for i := range parts {
		parts[i].ID, parts[i].Marks = partID(piece, int64(parts[i].Number)), map[int]schedule.Mark{}
	}
	_, err = queryRows(ctx, from, func(scan scanner) (struct{}, error) {
		var part, at int64
		var id int
		var skipped bool
		var coat sql.NullInt64
		if err := scan(&part, &id, &at, &skipped, &coat); err != nil {
			return struct{}{}, err
		}
		mark := schedule.Mark{Done: fromMillis(at), Coat: coatIDs.orEmpty(coat)}
		if skipped {
			mark = schedule.Mark{Skipped: fromMillis(at)}
		}
		for i := range parts {
			if int64(parts[i].Number) == part {
				parts[i].Marks[id] = mark
			}
		}
		return struct{}{}, nil
	}, `SELECT part, step, at, skipped, NULL FROM tick WHERE piece = ? AND undone IS NULL
UNION ALL SELECT part, step, applied, 0, id FROM coat WHERE piece = ? AND undone IS NULL AND step > 0 ORDER BY 3`, piece, piece)
	return parts, err
}

func readSchedule(scan scanner) (schedule.Part, error) {
	var p schedule.Part
	var steps string
	if err := scan(&p.Number, &p.Name, &p.Template, &steps); err != nil {
		return schedule.Part{}, err
	}
	var err error
	if p.Steps, err = schedule.ReadSteps(strings.NewReader(steps)); err != nil {
		return schedule.Part{}, fmt.Errorf("the schedule of %s: %w", p.Name, err)
	}
	return p, nil
}
