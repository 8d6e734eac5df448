package shop

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"recoat/internal/shop/mix"
)

// Mix is a recipe in the journal. It is never changed: a coat's mix can be
// made again as it was.
type Mix struct {
	ID       string    `json:"id"`
	Added    time.Time `json:"added"`
	Archived time.Time `json:"archived,omitzero"` // zero: it is not
	mix.Recipe
}

// AddMix adds a recipe.
func (j *Journal) AddMix(ctx context.Context, r mix.Recipe, at time.Time) (Mix, error) {
	m := Mix{Added: fromMillis(at.UnixMilli()), Recipe: r}
	if err := m.clean(); err != nil {
		return Mix{}, err
	}
	id, err := j.change(ctx, "add the mix", at, func(tx *sql.Tx) (step, error) {
		result, err := tx.ExecContext(ctx, `INSERT INTO mix(name, basis, added) VALUES (?, ?, ?)`, m.Name, string(m.Basis), at.UnixMilli())
		if err != nil {
			return step{}, err
		}
		n, err := result.LastInsertId()
		if err != nil {
			return step{}, err
		}
		m.ID = mixIDs.of(n)
		for i, p := range m.Parts {
			if _, err := tx.ExecContext(ctx, `INSERT INTO mix_part(mix, number, name, share) VALUES (?, ?, ?, ?)`, n, i+1, p.Name, p.Share.RatString()); err != nil {
				return step{}, err
			}
		}
		return step{m.ID, nil, m}, nil
	})
	if err != nil {
		return Mix{}, err
	}
	return j.Mix(ctx, id)
}

func (m *Mix) clean() error {
	var err error
	if m.Name, err = cleanName("the mix's name", m.Name); err != nil {
		return err
	}
	parts := make([]mix.Part, len(m.Parts))
	for i, p := range m.Parts {
		if p.Name, err = cleanName("the ingredient's name", p.Name); err != nil {
			return err
		}
		parts[i] = p
	}
	m.Parts = parts
	if err := m.Check(); err != nil {
		return &InputError{"the mix " + m.Name, "cannot be kept: " + err.Error()}
	}
	return nil
}

// Mixes returns every mix that is not in the archive, in the order in which they
// were added.
func (j *Journal) Mixes(ctx context.Context) ([]Mix, error) {
	all, err := mixes(ctx, j.db.Read, `mix.archived IS NULL`)
	if err != nil {
		return nil, fmt.Errorf("read the mixes: %w", err)
	}
	return all, nil
}

// Mix returns one mix.
func (j *Journal) Mix(ctx context.Context, id string) (Mix, error) {
	m, err := mixOf(ctx, j.db.Read, id)
	if err != nil {
		return Mix{}, fmt.Errorf("read the mix: %w", err)
	}
	return m, nil
}

func mixOf(ctx context.Context, from querier, id string) (Mix, error) {
	n, err := mixIDs.number(id)
	if err != nil {
		return Mix{}, err
	}
	all, err := mixes(ctx, from, `mix.id = ?`, n)
	if err == nil && len(all) == 0 {
		err = mixIDs.missing(id)
	}
	if err != nil {
		return Mix{}, err
	}
	return all[0], nil
}

func mixes(ctx context.Context, from querier, where string, args ...any) ([]Mix, error) {
	var all []Mix
	_, err := queryRows(ctx, from, func(scan scanner) (struct{}, error) {
		var m Mix
		var id, added int64
		var part mix.Part
		var share string
		var archived sql.NullInt64
		err := scan(&id, &m.Name, &m.Basis, &added, &archived, &part.Name, &share)
		if err != nil {
			return struct{}{}, err
		}
		if part.Share, err = mix.ParseShare(share); err != nil {
			return struct{}{}, err
		}
		m.ID, m.Added, m.Archived = mixIDs.of(id), fromMillis(added), orZero(archived)
		if n := len(all); n == 0 || all[n-1].ID != m.ID {
			all = append(all, m)
		}
		last := &all[len(all)-1]
		last.Parts = append(last.Parts, part)
		return struct{}{}, nil
	}, `SELECT mix.id, mix.name, mix.basis, mix.added, mix.archived, mix_part.name, mix_part.share FROM mix JOIN mix_part ON mix_part.mix = mix.id WHERE `+where+` ORDER BY mix.id, mix_part.number`, args...)
	return all, err
}
