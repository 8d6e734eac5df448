package shop

import (
	"strings"
	"testing"
)

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0},
		{"sand", "sand", 0},
		{"kitten", "sitting", 3}, // the usual textbook example, from memory
		{"recoat", "recoat_by", 3},
		{"rh", "", 2},
		{"saturday", "sunday", 3}, // likewise
	} {
		if got := distance(c.a, c.b, 10); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance(c.b, c.a, 2); got != min(c.want, 2) {
			t.Errorf("%q to %q, no further than 2: %d", c.b, c.a, got)
		}
	}
}

func TestSuggest(t *testing.T) {
	for wrong, right := range map[string]string{
		"stated.recaot":   "did you mean stated.recoat?",
		"stated.cured":    "did you mean stated.cure?",
		"air_min":         "did you mean limits.air_min?",
		"limits.sand":     "did you mean stated.sand?",
		"stated.tackfree": "did you mean stated.tack_free?",
		"fmaily":          "did you mean family?",
		"x":               "the keys are name, family",
	} {
		if got := suggest(wrong); !strings.HasPrefix(got, right) {
			t.Errorf("%s: %s", wrong, got)
		}
	}
}
