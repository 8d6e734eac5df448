package dashboards

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestASentenceIsCutAtItsFigures(t *testing.T) {
	a, b := num{"00:45", "#a"}, num{"3 K", "#b"}
	for text, want := range map[string][]num{
		"":                       nil,
		"nothing to lead to":     {{Text: "nothing to lead to"}},
		"under 3 K about 00:45.": {{Text: "under "}, b, {Text: " about "}, a, {Text: "."}},
		"00:45 and 00:45":        {a, {Text: " and "}, a},
		"3 K":                    {b},
	} {
		if diff := cmp.Diff(want, linked(text, a, b, num{})); diff != "" {
			t.Errorf("%q (-want +got):\n%s", text, diff)
		}
	}
}
