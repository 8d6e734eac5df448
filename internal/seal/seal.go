package seal

import (
	"fmt"
	"time"
)

// Seal is one link of the chain.
type Seal struct {
	Seq   int64  `json:"seq"`            // 1, 2, 3 …
	Room  string `json:"room"`           // empty: the journal
	Day   string `json:"day"`            // 2031-05-04, in UTC; of the journal: when it was sealed
	Count int64  `json:"count"`          // rounds, or rows
	Root  Digest `json:"root"`           // of all of them
	Last  int64  `json:"last,omitempty"` // the journal: number of the newest change in it

	Readings int64 `json:"readings,omitempty"` // in the rounds of a day

	Index Digest `json:"index,omitzero"`  // of the index that names rounds
	Made  string `json:"made"`            // when, RFC 3339 in UTC, to the millisecond
	Added int64  `json:"added,omitempty"` // since the day's seal before: rounds that came late
	Dated int64  `json:"dated,omitempty"` // rounds whose clock was set since
	// Unexplained names what changed or went since the seal before without a
	// reason that recoat has. It stays in the chain for ever.
	Unexplained []string `json:"unexplained,omitempty"`
	Prev        Digest   `json:"prev"` // the hash of the seal before
	Hash        Digest   `json:"hash"` // of all of the above
}

// hashed returns the hash that the seal's other fields give.
func (s Seal) hashed() Digest {
	s.Hash = Digest{}
	return ofText(s)
}

// Closed returns the seal with the hash that its other fields give.
func (s Seal) Closed() Seal {
	s.Hash = s.hashed()
	return s
}

// Check returns what is wrong with a seal by itself, or nil.
func (s Seal) Check() error {
	if s.hashed() != s.Hash {
		return fmt.Errorf("seal %d does not hold what its own hash says: it was altered", s.Seq)
	}
	return nil
}

// Follows returns what is wrong with s as the seal right after before, or nil.
func (s Seal) Follows(before Seal) error {
	switch {
	case s.Seq != before.Seq+1:
		return fmt.Errorf("seal %d follows seal %d: %d are missing", s.Seq, before.Seq, s.Seq-before.Seq-1)
	case s.Prev != before.Hash:
		return fmt.Errorf("seal %d does not hold the hash of seal %d: one of them was replaced", s.Seq, before.Seq)
	}
	return nil
}

// dayForm writes days. A day begins at midnight in UTC, so that it is the same
// wherever a document is read.
const dayForm = "2006-01-02"

// DayOf returns the day of an instant.
func DayOf(t time.Time) string { return t.UTC().Format(dayForm) }

// span returns when a day begins and ends.
func span(day string) (from, to time.Time, err error) {
	from, err = time.Parse(dayForm, day)
	return from, from.Add(24 * time.Hour), err
}
