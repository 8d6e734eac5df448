package backend

import (
	"cmp"
	"context"
	"sort"
	"time"

	"recoat/dashboards"
	"recoat/drying"
	"recoat/internal/shop"
)

// touchedUntil is how long after a coat a touch test on it is still looked for.
const touchedUntil = 30 * 24 * time.Hour

// Journal tells the pages what was done in a room.
type Journal struct{ journal *shop.Journal }

// NewJournal returns the pages' view of the journal.
func NewJournal(j *shop.Journal) Journal { return Journal{j} }

// Doings returns the coats put on in a room and the touch tests on them.
func (j Journal) Doings(ctx context.Context, room string, from, to time.Time) ([]dashboards.Doing, error) {
	coats, err := j.journal.Coats(ctx, shop.CoatFilter{Room: room, From: from.Add(-touchedUntil), To: to})
	if err != nil {
		return nil, err
	}
	touches, err := j.journal.AllTouches(ctx)
	if err != nil {
		return nil, err
	}
	byID := map[string]shop.Coat{}
	var all []dashboards.Doing
	for _, c := range coats {
		byID[c.ID] = c
		if !c.Applied.Before(from) {
			all = append(all, dashboards.Doing{
				At: c.Applied, Coat: c.ID, Text: partName(c) + ": " + c.Product.Label.Name,
				Put: &drying.Coat{Product: c.Product.Label, Applied: c.Applied, Film: c.Film},
			})
		}
	}
	for _, t := range touches {
		if c, ok := byID[t.Coat]; ok && !t.At.Before(from) && t.At.Before(to) {
			all = append(all, dashboards.Doing{At: t.At, Coat: t.Coat, Text: partName(c) + ": found " + string(t.Feel) + " by touch"})
		}
	}
	sort.SliceStable(all, func(i, j int) bool {
		return cmp.Or(all[i].At.Compare(all[j].At), cmp.Compare(all[i].Coat, all[j].Coat)) < 0
	})
	return all, nil
}

func partName(c shop.Coat) string { return c.Piece + ", " + c.Part.Name }
