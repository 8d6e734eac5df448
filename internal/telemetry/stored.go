package telemetry

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
)

// Span is a range of sequence numbers, both ends in it.
type Span struct{ First, Last uint64 }

// MaxSpans is how many spans one acknowledgement can hold.
const MaxSpans = 256

// Receipt is what the hub says it has made durable: rounds of one boot.
// ClockSet tells which form of them: a round sent before the clock was set and
// again after it is only done with once the second form is durable.
type Receipt struct {
	Boot     string
	ClockSet bool
	Spans    []Span // ascending, apart from each other
}

// Holds reports whether the receipt names a sequence number.
func (r Receipt) Holds(seq uint64) bool {
	return slices.ContainsFunc(r.Spans, func(s Span) bool { return s.First <= seq && seq <= s.Last })
}

type receiptJSON struct {
	Boot     string     `json:"boot"`
	ClockSet bool       `json:"clock_set"`
	Seqs     [][]uint64 `json:"seqs"`
}

// Encode writes the receipt as it goes over the wire.
func (r Receipt) Encode() ([]byte, error) {
	if err := r.check(); err != nil {
		return nil, fmt.Errorf("encode an acknowledgement: %w", err)
	}
	wire := receiptJSON{Boot: r.Boot, ClockSet: r.ClockSet}
	for _, s := range r.Spans {
		wire.Seqs = append(wire.Seqs, []uint64{s.First, s.Last})
	}
	return json.Marshal(wire)
}

// DecodeReceipt is the inverse of Encode.
func DecodeReceipt(payload []byte) (Receipt, error) {
	var wire receiptJSON
	if err := decodeNote(payload, &wire); err != nil {
		return Receipt{}, fmt.Errorf("acknowledgement: %w", err)
	}
	r := Receipt{Boot: wire.Boot, ClockSet: wire.ClockSet}
	for _, pair := range wire.Seqs {
		if len(pair) != 2 {
			return Receipt{}, fmt.Errorf("acknowledgement: a span of %d numbers, want first and last", len(pair))
		}
		r.Spans = append(r.Spans, Span{pair[0], pair[1]})
	}
	if err := r.check(); err != nil {
		return Receipt{}, fmt.Errorf("acknowledgement: %w", err)
	}
	return r, nil
}

func (r Receipt) check() error {
	if !validBoot(r.Boot) {
		return fmt.Errorf("the boot is named %q: want 1 to %d letters, digits or '-'", r.Boot, maxBoot)
	}
	if len(r.Spans) == 0 || len(r.Spans) > MaxSpans {
		return fmt.Errorf("%d spans: want 1 to %d", len(r.Spans), MaxSpans)
	}
	last := uint64(0)
	for _, s := range r.Spans {
		if s.First <= last || s.Last < s.First || s.Last > maxSeq {
			return errors.New("spans must ascend from 1 and be apart")
		}
		last = s.Last
	}
	return nil
}

// spansOf gathers sequence numbers, in any order and more than once, into
// spans.
func spansOf(seqs []uint64) []Span {
	slices.Sort(seqs)
	var spans []Span
	for _, seq := range slices.Compact(seqs) {
		if n := len(spans); n > 0 && spans[n-1].Last+1 == seq {
			spans[n-1].Last = seq
			continue
		}
		spans = append(spans, Span{seq, seq})
	}
	return spans
}
