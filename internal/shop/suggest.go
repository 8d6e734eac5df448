package shop

import (
	"slices"
	"strings"
)

// suggest says which key was likely meant by one that does not exist: the same
// word in another table, else the nearest spelling, else all there are.
func suggest(wrong string) string {
	_, word := tableAndWord(wrong)
	best, least := "", len(wrong)/3+1
	for _, f := range fields {
		if _, w := tableAndWord(f.key); w == word {
			return "did you mean " + f.key + "?"
		}
		if d := distance(wrong, f.key, least+1); d <= least {
			best, least = f.key, d-1
		}
	}
	if best != "" {
		return "did you mean " + best + "?"
	}
	keys := make([]string, len(fields))
	for i, f := range fields {
		keys[i] = f.key
	}
	return "the keys are " + strings.Join(keys, ", ")
}

func tableAndWord(key string) (table, word string) {
	i := strings.LastIndexByte(key, '.')
	return key[:max(i, 0)], key[i+1:]
}

// distance is how many letters must be put in, taken out or changed to turn a
// into b (Levenshtein 1966), or at least limit where that is sure to be more.
func distance(a, b string, limit int) int {
	if len(a)-len(b) >= limit || len(b)-len(a) >= limit {
		return limit
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, diagonal+1)
		}
		if slices.Min(row) >= limit {
			return limit
		}
	}
	return row[len(b)]
}
