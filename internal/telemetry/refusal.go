package telemetry

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
)

// Refusal is a round that the hub will not have, however often it comes: it is of
// a kind that this hub does not know, say.
type Refusal struct {
	Boot     string
	Seq      uint64
	ClockSet bool
	Why      string
}

// maxWhy is how much of the reason goes over the wire, in characters.
const maxWhy = 300

type refusalJSON struct {
	Boot     string `json:"boot"`
	Seq      uint64 `json:"seq"`
	ClockSet bool   `json:"clock_set"`
	Why      string `json:"why"`
}

// Encode writes the refusal as it goes over the wire.
func (r Refusal) Encode() ([]byte, error) {
	if err := r.check(); err != nil {
		return nil, fmt.Errorf("encode a refusal: %w", err)
	}
	return json.Marshal(refusalJSON{r.Boot, r.Seq, r.ClockSet, printable(r.Why, maxWhy)})
}

// DecodeRefusal is the inverse of Encode.
func DecodeRefusal(payload []byte) (Refusal, error) {
	var wire refusalJSON
	if err := decodeNote(payload, &wire); err != nil {
		return Refusal{}, fmt.Errorf("refusal: %w", err)
	}
	r := Refusal{Boot: wire.Boot, Seq: wire.Seq, ClockSet: wire.ClockSet, Why: printable(wire.Why, maxWhy)}
	if err := r.check(); err != nil {
		return Refusal{}, fmt.Errorf("refusal: %w", err)
	}
	return r, nil
}

func (r Refusal) check() error {
	return Receipt{Boot: r.Boot, ClockSet: r.ClockSet, Spans: []Span{{r.Seq, r.Seq}}}.check()
}

// identify finds out which round of a node's a pack is that cannot be read for
// another reason.
func identify(room, node string, payload []byte) (r Refusal, known bool) {
	records, err := parseRecords(payload)
	if err != nil {
		return r, false
	}
	r.ClockSet = true
	for _, x := range records {
		switch name := strings.TrimPrefix(x.name, baseName(room, node)); {
		case name == bootName && x.text != nil:
			r.Boot = *x.text
		case name == seqName && x.value != nil && *x.value >= 1 && *x.value <= maxSeq:
			r.Seq = uint64(*x.value)
		case name == clockSetName && x.flag != nil:
			r.ClockSet = *x.flag
		}
	}
	return r, r.check() == nil
}

// Refuse sets a round aside that the hub will not have. It is kept as long as
// there is room, and sent again when the spool is next opened: a later hub may
// have it.
func (s *Spool) Refuse(ctx context.Context, r Refusal) error {
	if err := r.check(); err != nil {
		return fmt.Errorf("spool: set a round aside: %w", err)
	}
	err := s.db.Tx(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE rounds SET stored = ? WHERE stored = 0 AND clock_set = ? AND seq = ? AND boot = (SELECT id FROM boots WHERE boot = ?)`,
			aside, r.ClockSet, int64(r.Seq), r.Boot)
		return err
	})
	if err != nil {
		return fmt.Errorf("spool: set a round aside: %w", err)
	}
	return nil
}
