package telemetry

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestReceiptsAndStatesThatAreRefused(t *testing.T) {
	boot := `{"boot":"` + bootA + `",`
	for _, payload := range []string{
		``, `[]`, `{}`, boot + `"seqs":[]}`, boot + `"seqs":[[1]]}`, boot + `"seqs":[[1,2,3]]}`, boot + `"seqs":[[0,2]]}`, boot + `"seqs":[[3,2]]}`,
		boot + `"seqs":[[1,5],[5,6]]}`, boot + `"seqs":[[4,5],[1,2]]}`, boot + `"seqs":[[1,9007199254740992]]}`, boot + `"seqs":[[-1,2]]}`, boot + `"seqs":[[1.5,2]]}`,
		boot + `"seqs":[[1,2]],"more":1}`, boot + `"seqs":[[1,2]]} {}`, `{"boot":"","seqs":[[1,2]]}`, `{"boot":"a/b","seqs":[[1,2]]}`,
		boot + `"seqs":[` + strings.Repeat("[1,1],", 4000) + `[1,1]]}`,
	} {
		if r, err := DecodeReceipt([]byte(payload)); err == nil {
			t.Errorf("%.60s was read as %+v", payload, r)
		}
	}
	for _, payload := range []string{
		``, `{}`, `"online"`, `{"state":"on","boot":"a","at":"2026-03-01T21:00:00Z"}`, `{"state":"online","boot":"","at":"2026-03-01T21:00:00Z"}`,
		`{"state":"online","boot":"a","at":"yesterday"}`, `{"state":"online","boot":"a","at":"2026-03-01T21:00:00Z","x":1}`,
	} {
		if s, err := DecodeState([]byte(payload)); err == nil {
			t.Errorf("%s was read as %+v", payload, s)
		}
	}
	want := NodeState{Online: false, Boot: bootB, At: received.Add(123 * time.Millisecond)}
	if got, err := DecodeState(want.Encode()); err != nil || got != want {
		t.Errorf("%+v came back as %+v, %v", want, got, err)
	}
}

func TestSpansHoldTheNumbersGivenAndNoOther(t *testing.T) {
	seed := rand.Uint64()
	r := rand.New(rand.NewPCG(seed, 2))
	for range 200 {
		given := map[uint64]bool{}
		var seqs []uint64
		for range 1 + r.IntN(60) {
			seq := 1 + r.Uint64N(80)
			given[seq], seqs = true, append(seqs, seq)
		}
		receipt := Receipt{Boot: bootA, Spans: spansOf(seqs)}
		payload, err := receipt.Encode()
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		back, err := DecodeReceipt(payload)
		if diff := cmp.Diff(receipt, back); err != nil || diff != "" {
			t.Fatalf("seed %d: %v %s", seed, err, diff)
		}
		for seq := range uint64(90) {
			if back.Holds(seq) != given[seq] {
				t.Fatalf("seed %d: %d given %v, held %v in %v", seed, seq, given[seq], back.Holds(seq), back.Spans)
			}
		}
	}
}
