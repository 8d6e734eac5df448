package seal

import (
	"context"
	"regexp"
	"slices"
	"strings"

	"recoat/internal/shop"
)

// compareRows says which rows of the journal differ from those sealed without a
// change recorded since that tells of them, and which with one.
func compareRows(ctx context.Context, j Journal, before Seal, old, now map[rowKey]Digest) (silent, told []string, err error) {
	since, err := changesSince(ctx, j, before.Last)
	if err != nil {
		return nil, nil, err
	}
	note := func(k rowKey, what string, added bool) {
		if k.explained(since, added) {
			told = append(told, k.String())
		} else {
			silent = append(silent, k.String()+what)
		}
	}
	for k, d := range now {
		was, there := old[k]
		switch {
		case there && was == d:
		case there:
			note(k, " was changed", false)
		default:
			note(k, " was put in", true)
		}
	}
	for k := range old {
		if _, there := now[k]; !there {
			note(k, " is gone", false)
		}
	}
	slices.Sort(silent)
	slices.Sort(told)
	return silent, told, nil
}

// told is what the record of changes names since a seal.
type told struct {
	changes int
	ids     map[string]bool
}

var idForm = regexp.MustCompile(`[a-z]-[0-9]{4,18}`)

func changesSince(ctx context.Context, j Journal, seq int64) (told, error) {
	t := told{ids: map[string]bool{}}
	err := j.Changes(ctx, seq, func(c shop.Change) error {
		t.changes++
		for _, text := range []string{c.Subject, string(c.Before), string(c.After)} {
			for _, id := range idForm.FindAllString(text, -1) {
				t.ids[id] = true
			}
		}
		return nil
	})
	return t, err
}

// letters are those of the ids that changes are recorded under, by table.
var letters = map[string]string{
	"product": "f", "piece": "p", "part": "p", "coat": "c", "touch": "t", "mix": "m", "mix_part": "m", "can": "s",
	"calibration": "k", "defect": "d", "moisture": "w",
}

// explained reports whether the changes since may have done this to the row: one
// of them names it, or, for tables whose rows have no ids of their own, there is
// one at all. The record of changes itself only ever grows.
func (k rowKey) explained(since told, added bool) bool {
	letter, known := letters[k.table]
	switch {
	case k.table == "change":
		return added && since.changes > 0
	case known:
		return since.ids[k.id(letter)]
	}
	return since.changes > 0
}

// id is the id that the journal gives the row; a part goes by its piece's.
func (k rowKey) id(letter string) string {
	first, _, _ := strings.Cut(k.key, " ")
	return letter + "-" + strings.Repeat("0", max(4-len(first), 0)) + first
}

// String names the row for a person.
func (k rowKey) String() string {
	switch letter, known := letters[k.table]; {
	case k.table == "change":
		return "change " + k.key
	case known:
		return strings.ReplaceAll(k.table, "_", " ") + " " + k.id(letter)
	}
	return "row " + k.key + " of " + k.table
}
