package telemetry

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Bounds of a pack, checked before anything is made of it.
const (
	MaxPack     = 64 << 10 // bytes
	MaxRecords  = 256
	MaxChannels = 64 // per instant
)

// senmlVersion is the newest version that can be read (RFC 8428, section 4.4);
// earlier ones have the same structure.
const senmlVersion = 10

// record is a SenML record with the base fields applied. Time is in seconds
// and still relative to now where it is below 2^28.
type record struct {
	name, unit string
	time       float64
	value      *float64
	text       *string
	flag       *bool
}

// labels are those of RFC 8428, table 2: first those of numbers, then those of
// strings, and the one of a boolean.
var labels = [...]string{"bt", "bv", "bs", "bver", "v", "s", "t", "ut", "bn", "bu", "n", "u", "vs", "vd", "vb"}

const (
	firstText = 8 // of labels
	firstFlag = 14
)

// placeOf returns where a label is in labels, -1 where it is none of them.
func placeOf(label string) int {
	for i, l := range labels {
		if l == label {
			return i
		}
	}
	return -1
}

// parseRecords reads a SenML JSON pack. The SenML library is not used for
// this: its types cannot tell a base field of zero from none, it lets a label
// appear twice or in capitals, and it ignores labels that end in '_', which
// RFC 8428, section 4.4, says must be refused.
func parseRecords(payload []byte) ([]record, error) {
	if len(payload) > MaxPack {
		return nil, fmt.Errorf("the pack has %d bytes: at most %d are read", len(payload), MaxPack)
	}
	if !utf8.Valid(payload) {
		return nil, errors.New("the pack is not UTF-8")
	}
	c := cursor{payload}
	if err := c.expect('['); err != nil {
		return nil, fmt.Errorf("a pack is an array of records: %w", err)
	}
	all := make([]record, 0, 8) // as many as most rounds have
	base, n, f := bases{version: senmlVersion}, 0, fields{}
	err := c.each(']', func() error {
		if n++; n > MaxRecords {
			return fmt.Errorf("the pack has more than %d records", MaxRecords)
		}
		if err := f.read(&c); err != nil {
			return fmt.Errorf("record %d: %w", n, err)
		}
		r, full, err := base.apply(&f, n == 1)
		if err != nil {
			return fmt.Errorf("record %d: %w", n, err)
		}
		if full {
			all = append(all, r)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if c.next() != 0 || len(c.rest) > 0 {
		return nil, errors.New("something follows the pack")
	}
	return all, nil
}

// fields are the values of one record by the place of their label, and which of
// them came.
type fields struct {
	came    [len(labels)]bool
	numbers [firstText]float64
	texts   [firstFlag - firstText]string
	flag    bool
	others  []string // labels that are ignored
}

// read takes the place of what was there.
func (f *fields) read(c *cursor) error {
	*f = fields{}
	if err := c.expect('{'); err != nil {
		return err
	}
	return c.each('}', func() error {
		label, err := c.string()
		if err != nil {
			return err
		}
		if err := c.expect(':'); err != nil {
			return err
		}
		return f.parse(c, label)
	})
}

func (f *fields) parse(c *cursor, label string) (err error) {
	i := placeOf(label)
	if i >= 0 && f.came[i] || slices.Contains(f.others, label) {
		return fmt.Errorf("label %q appears twice", label)
	}
	switch {
	case strings.HasSuffix(label, "_"):
		return fmt.Errorf("label %q must be understood, and is not", label)
	case i < 0:
		f.others = append(f.others, label)
		return c.skip()
	case i < firstText:
		f.numbers[i], err = c.number()
	case i < firstFlag:
		f.texts[i-firstText], err = c.string()
	default:
		f.flag, err = c.bool()
	}
	if err != nil {
		return fmt.Errorf("label %q: %w", label, err)
	}
	f.came[i] = true
	return nil
}

func (f *fields) number(label string) (float64, bool) {
	i := placeOf(label)
	return f.numbers[i], f.came[i]
}

func (f *fields) string(label string) (string, bool) {
	i := placeOf(label)
	return f.texts[i-firstText], f.came[i]
}

// has counts which of the labels the record holds.
func (f *fields) has(labels ...string) (n int) {
	for _, label := range labels {
		if f.came[placeOf(label)] {
			n++
		}
	}
	return n
}

// bases are the base fields in force (RFC 8428, section 4.1).
type bases struct {
	name, unit           string
	time, value, version float64
	hasValue, hasSum     bool
}

func (b *bases) set(f *fields, first bool) error {
	if version, ok := f.number("bver"); ok {
		switch {
		case version < 1 || version > senmlVersion || version != float64(int(version)):
			return fmt.Errorf("SenML version %v: a whole number from 1 to %d can be read", version, senmlVersion)
		case !first && version != b.version:
			return fmt.Errorf("SenML version %v after version %v", version, b.version)
		}
		b.version = version
	}
	if name, ok := f.string("bn"); ok {
		b.name = name
	}
	if unit, ok := f.string("bu"); ok {
		b.unit = unit
	}
	if time, ok := f.number("bt"); ok {
		b.time = time
	}
	if value, ok := f.number("bv"); ok {
		b.value, b.hasValue = value, true
	}
	b.hasSum = b.hasSum || f.has("bs") > 0
	return nil
}

// apply resolves a record. It is not full where it only sets base fields, as
// the first record of RFC 8428, section 5.1.7, does.
func (b *bases) apply(f *fields, first bool) (r record, full bool, err error) {
	if err := b.set(f, first); err != nil {
		return record{}, false, err
	}
	valued := f.has("v", "vs", "vb", "vd")
	if valued+f.has("s", "n", "u", "t", "ut") == 0 {
		return record{}, false, nil
	}
	switch {
	case valued > 1:
		return record{}, false, errors.New("more than one of v, vs, vb and vd")
	case valued == 0 && f.has("s") == 0 && !b.hasValue && !b.hasSum:
		return record{}, false, errors.New("no value: one of v, vs, vb, vd or s must be there")
	}
	name, _ := f.string("n")
	r.name = b.name + name
	if err := checkSenMLName(r.name); err != nil {
		return record{}, false, err
	}
	r.unit = b.unit
	if unit, ok := f.string("u"); ok && unit != "" {
		r.unit = unit
	}
	at, _ := f.number("t")
	r.time = b.time + at
	b.applyValue(f, valued, &r)
	return r, true, nil
}

// applyValue adds the base value (RFC 8428, section 4.5.4: whichever of the
// two is missing counts as zero).
func (b *bases) applyValue(f *fields, valued int, r *record) {
	value, ok := f.number("v")
	if ok || valued == 0 && b.hasValue {
		value += b.value
		r.value = &value
	}
	if text, ok := f.string("vs"); ok {
		r.text = &text
	}
	if f.has("vb") > 0 {
		flag := f.flag
		r.flag = &flag
	}
}

// checkSenMLName holds a resolved name to RFC 8428, section 4.5.1.
func checkSenMLName(name string) error {
	for i, r := range name {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
		case i > 0 && strings.ContainsRune("-:./_", r):
		default:
			return fmt.Errorf("name %q: a name starts with a letter or digit and holds only those and - : . / _", name)
		}
	}
	if name == "" {
		return errors.New("a record has no name")
	}
	return nil
}
