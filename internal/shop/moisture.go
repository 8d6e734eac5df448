package shop

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Moisture is what a moisture meter said of the wood of a part.
type Moisture struct {
	ID      string    `json:"id"`
	Part    string    `json:"part"` // id
	At      time.Time `json:"at"`
	WoodPct float64   `json:"wood_pct"` // of the dry wood's mass
	DepthMM float64   `json:"depth_mm"` // 0: not known
	Note    string    `json:"note"`     // such as the species that the meter was set to
}

// mostMoisture is the wettest that wood can be said to be, green wood being far
// above what furniture ever has; most meters end lower.
const mostMoisture = 200.0

// AddMoisture records what a moisture meter said; the id is the journal's to
// give.
func (j *Journal) AddMoisture(ctx context.Context, m Moisture, at time.Time) (Moisture, error) {
	note, err := cleanText("the note", m.Note, LongestNote)
	if err == nil {
		err = firstError(
			func() error { return checkTime("the time of the moisture reading", m.At, at) },
			func() error { return within("the moisture", m.WoodPct, 0, mostMoisture, "%") },
			func() error { return within("the depth", m.DepthMM, 0, 1000, "mm") },
		)
	}
	if err != nil {
		return Moisture{}, err
	}
	m.Note, m.At = note, fromMillis(m.At.UnixMilli())
	id, err := j.change(ctx, "add the moisture reading", at, func(tx *sql.Tx) (step, error) {
		if _, err := partOf(ctx, tx, m.Part); err != nil {
			return step{}, err
		}
		piece, number, err := partNumbers(m.Part)
		if err != nil {
			return step{}, err
		}
		result, err := tx.ExecContext(ctx, `INSERT INTO moisture(piece, part, at, wood_pct, depth_mm, note) VALUES (?, ?, ?, ?, ?, ?)`, piece, number, m.At.UnixMilli(), m.WoodPct, m.DepthMM, m.Note)
		if err != nil {
			return step{}, err
		}
		n, err := result.LastInsertId()
		m.ID = moistureIDs.of(n)
		return step{m.ID, nil, m}, err
	})
	if err != nil {
		return Moisture{}, err
	}
	n, err := moistureIDs.number(id)
	if err != nil {
		return Moisture{}, err
	}
	all, err := j.moistures(ctx, `id = ?`, n)
	if err != nil {
		return Moisture{}, err
	}
	return all[0], nil
}

// Moistures returns the moisture readings of a piece, in order of time.
func (j *Journal) Moistures(ctx context.Context, piece string) ([]Moisture, error) {
	n, err := pieceIDs.number(piece)
	if err != nil {
		return nil, fmt.Errorf("read the moisture readings: %w", err)
	}
	return j.moistures(ctx, `piece = ?`, n)
}

func (j *Journal) moistures(ctx context.Context, where string, args ...any) ([]Moisture, error) {
	return query(ctx, j.db.Read, "read the moisture readings", func(scan scanner) (Moisture, error) {
		var m Moisture
		var id, piece, number, at int64
		err := scan(&id, &piece, &number, &at, &m.WoodPct, &m.DepthMM, &m.Note)
		m.ID, m.Part, m.At = moistureIDs.of(id), partID(piece, number), fromMillis(at)
		return m, err
	}, `SELECT id, piece, part, at, wood_pct, depth_mm, note FROM moisture WHERE `+where+` ORDER BY at, id`, args...)
}
