package telemetry

import (
	"strings"
	"testing"
)

func TestTopicsReadBackAndNothingElseIsOne(t *testing.T) {
	for _, want := range []Topic{
		{"back-room", "bench", Readings}, {"a", "1", State}, {strings.Repeat("x", 32), "-", Stored},
	} {
		if got, err := ParseTopic(want.String()); err != nil || got != want {
			t.Errorf("%s: %v, %v", want, got, err)
		}
	}
	for _, s := range []string{
		"", "recoat", "recoat/1/a/b", "recoat/1/a/b/readings/more", "recoat/2/a/b/readings", "/recoat/1/a/b/readings",
		"recoat/1//b/readings", "recoat/1/a//readings", "recoat/1/a/b/", "recoat/1/a/b/Readings", "recoat/1/a/b/cmd",
		"recoat/1/+/b/readings", "recoat/1/a/#", "recoat/1/A/b/readings", "recoat/1/a b/c/readings", "recoat/1/ä/b/readings",
		"recoat/1/a\x00/b/readings", "recoat/1/" + strings.Repeat("x", 33) + "/b/readings",
	} {
		if got, err := ParseTopic(s); err == nil {
			t.Errorf("%q was read as %v", s, got)
		}
	}
}
