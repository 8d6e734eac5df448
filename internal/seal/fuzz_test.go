package seal

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"
)

// A seal that passes its own check is written again as the same seal.
func FuzzSeal(f *testing.F) {
	s := Seal{Seq: 1, Room: "attic", Day: "2031-05-04", Count: 2, Made: "2031-05-05T03:00:00.000Z", Unexplained: []string{"round 7 of bench (boot b)"}}.Closed()
	text, err := json.Marshal(s)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add(bytes.Replace(text, []byte(`"seq":1`), []byte(`"seq":1,"seq":2`), 1))
	f.Add([]byte(`{"seq":9223372036854775807,"prev":"00"}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var s Seal
		if json.Unmarshal(text, &s) != nil || s.Check() != nil {
			return
		}
		again, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		var back Seal
		if err := json.Unmarshal(again, &back); err != nil || back.Check() != nil || back.Hash != s.Hash {
			t.Fatalf("%s came back as %+v, %v", again, back, err)
		}
		if s.Follows(s) == nil {
			t.Fatalf("%s follows itself", again)
		}
		if from, to, err := span(s.Day); err == nil && to.Sub(from) != 24*time.Hour {
			t.Fatalf("the day %s has %v", s.Day, to.Sub(from))
		}
	})
}

// An index names no more rounds than it has marks, and never differs from
// itself.
func FuzzIndex(f *testing.F) {
	f.Add([]byte(`[{"node":"bench","boot":"b","first":7,"step":1,"set":true,"marks":"AAAAAAAAAAE="}]`))
	f.Add([]byte(`[{"node":"x","first":18446744073709551615,"step":18446744073709551615,"marks":"AAAAAAAAAAAAAAAA"}]`))
	f.Add([]byte(`[{"marks":"AAA="},{"marks":null}]`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var x Index
		if json.Unmarshal(text, &x) != nil {
			return
		}
		marks := 0
		for _, r := range x {
			marks += len(r.Marks) / markBytes
		}
		if n := len(x.marks()); n > marks {
			t.Fatalf("%d rounds of %d marks", n, marks)
		}
		if d := x.compare(x); len(d.Added)+len(d.Changed)+len(d.Removed)+len(d.Dated) > 0 {
			t.Fatalf("it differs from itself: %+v", d)
		}
	})
}
