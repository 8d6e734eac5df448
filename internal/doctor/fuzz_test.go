package doctor

import (
	"strings"
	"testing"
)

func FuzzWorstOf(f *testing.F) {
	f.Add("0x01 0x02")
	f.Add("0xff")
	f.Add("-1 0x")
	f.Fuzz(func(t *testing.T, text string) {
		fields := strings.Fields(text)
		if worst, err := worstOf(fields); err == nil && (worst > 0xff || len(fields) == 0 && worst != 0) {
			t.Fatalf("%q is %d", text, worst)
		}
	})
}
