package seal

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"recoat/sensors"
)

// Digest is a SHA-256.
type Digest [sha256.Size]byte

// String returns the digest in hexadecimal.
func (d Digest) String() string { return hex.EncodeToString(d[:]) }

// MarshalText gives the digest in hexadecimal.
func (d Digest) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText is the inverse of MarshalText.
func (d *Digest) UnmarshalText(text []byte) error {
	raw, err := hex.DecodeString(string(text))
	if err != nil || len(raw) != len(d) {
		return fmt.Errorf("%.70q is not a SHA-256 in hexadecimal", text)
	}
	copy(d[:], raw)
	return nil
}

// OfRound returns the digest of everything that a canonical round says.
func OfRound(r sensors.Round) Digest {
	b := appendText(make([]byte, 0, 128), r.Node)
	b = appendText(b, r.Boot)
	b = binary.AppendUvarint(b, r.Seq)
	b = binary.AppendVarint(b, r.Time.UnixMilli())
	b = binary.AppendVarint(b, r.Uptime.Milliseconds())
	set := byte(0)
	if r.ClockSet {
		set = 1
	}
	b = append(b, set)
	b = binary.AppendUvarint(b, uint64(len(r.Readings)))
	for _, x := range r.Readings {
		b = append(b, byte(x.Channel.Quantity), byte(x.Quality))
		b = appendText(b, x.Channel.Probe)
		b = binary.AppendVarint(b, x.Channel.Quantity.Steps(x.Value))
	}
	return sha256.Sum256(b)
}

func appendText(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

// RoundID is what makes two deliveries one round.
type RoundID struct {
	Node string
	Boot string
	Seq  uint64
}

func idOf(r sensors.Round) RoundID { return RoundID{r.Node, r.Boot, r.Seq} }

// String names a round for a person.
func (id RoundID) String() string {
	if id.Boot == "" {
		return fmt.Sprintf("the round of %s at %s", id.Node, time.UnixMilli(int64(id.Seq)).UTC().Format(time.RFC3339))
	}
	return fmt.Sprintf("round %d of %s (boot %s)", id.Seq, id.Node, id.Boot)
}

func (id RoundID) compare(o RoundID) int {
	return cmp.Or(cmp.Compare(id.Node, o.Node), cmp.Compare(id.Boot, o.Boot), cmp.Compare(id.Seq, o.Seq))
}

// Day is what a seal says of the rounds of one room and day.
type Day struct {
	Count int64
	Root  Digest // of every round's digest, in order of node, boot and seq
	Index Index
}

// sealed is one round of a day.
type sealed struct {
	id     RoundID
	set    bool // its clock was
	digest Digest
}

// dayOf sums up rounds, in whatever order.
func dayOf(rounds []sealed) Day {
	slices.SortFunc(rounds, func(a, b sealed) int { return a.id.compare(b.id) })
	h := sha256.New()
	for i := range rounds {
		h.Write(rounds[i].digest[:])
	}
	d := Day{Count: int64(len(rounds)), Index: indexOf(rounds)}
	h.Sum(d.Root[:0])
	return d
}

// Index names rounds that changed: the first four bytes of each one's digest.
// It proves nothing by itself; the root does.
type Index []Run

// Run is rounds of one boot whose seqs follow each other. Marks holds four
// bytes for each.
type Run struct {
	Node  string `json:"node"`
	Boot  string `json:"boot,omitempty"`
	First uint64 `json:"first"`
	Step  uint64 `json:"step"` // from one seq to the next
	Set   bool   `json:"set"`  // the clock was set
	Marks []byte `json:"marks"`
}

const markBytes = 4

func indexOf(rounds []sealed) Index {
	var all Index
	for _, r := range rounds {
		if n := len(all); n == 0 || !all[n-1].takes(r) {
			all = append(all, Run{Node: r.id.Node, Boot: r.id.Boot, First: r.id.Seq, Step: 1, Set: r.set})
		}
		run := &all[len(all)-1]
		if len(run.Marks) == markBytes {
			run.Step = r.id.Seq - run.First
		}
		run.Marks = append(run.Marks, r.digest[:markBytes]...)
	}
	return all
}

// takes reports whether a round continues the run. The second one settles the
// step, so that a device without seqs needs no run for each round.
func (r *Run) takes(s sealed) bool {
	if r.Node != s.id.Node || r.Boot != s.id.Boot || r.Set != s.set {
		return false
	}
	n := uint64(len(r.Marks) / markBytes)
	return n == 1 || s.id.Seq == r.First+n*r.Step
}

// marks returns the index by round.
func (x Index) marks() map[RoundID]mark {
	all := map[RoundID]mark{}
	for _, r := range x {
		for i := 0; i+markBytes <= len(r.Marks); i += markBytes {
			id := RoundID{r.Node, r.Boot, r.First + uint64(i/markBytes)*r.Step}
			all[id] = mark{[markBytes]byte(r.Marks[i:]), r.Set}
		}
	}
	return all
}

type mark struct {
	digest [markBytes]byte
	set    bool
}

// Difference is what became of a day since it was sealed.
type Difference struct {
	Added, Changed, Removed []RoundID
	// Dated are rounds whose clock had not been set and that came again with it
	// set, or, until settle has looked for them, are not on this day any more.
	Dated []RoundID
}

// compare says what differs between an earlier index and a later one.
func (x Index) compare(later Index) Difference {
	before, after := x.marks(), later.marks()
	var d Difference
	for id, was := range before {
		is, there := after[id]
		switch {
		case there && is == was:
		case !was.set && id.Boot != "" && (!there || is.set):
			d.Dated = append(d.Dated, id)
		case there:
			d.Changed = append(d.Changed, id)
		default:
			d.Removed = append(d.Removed, id)
		}
	}
	for id := range after {
		if _, there := before[id]; !there {
			d.Added = append(d.Added, id)
		}
	}
	for _, list := range [][]RoundID{d.Added, d.Changed, d.Removed, d.Dated} {
		slices.SortFunc(list, RoundID.compare)
	}
	return d
}

// forget takes rounds that are there no more out of a difference, and returns
// how many those were. A round whose clock was not set may be one of them.
func (d *Difference) forget(later Index) int {
	there := later.marks()
	gone := func(id RoundID) bool {
		_, found := there[id]
		return !found
	}
	before := len(d.Removed) + len(d.Dated)
	d.Removed, d.Dated = slices.DeleteFunc(d.Removed, gone), slices.DeleteFunc(d.Dated, gone)
	return before - len(d.Removed) - len(d.Dated)
}

// ofText is the digest of JSON that this package writes.
func ofText(v any) Digest {
	text, err := json.Marshal(v)
	if err != nil {
		panic("seal: a type of our own has no JSON: " + err.Error())
	}
	return sha256.Sum256(text)
}
