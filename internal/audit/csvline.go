package audit

import (
	"bufio"
	"crypto/sha256"
	"hash"
	"io"
	"math"
	"strconv"
	"strings"

	"recoat/internal/seal"
	"recoat/sensors"
)

// Columns are those of the raw evidence.
func Columns() []string {
	return []string{"time", "room", "node", "boot", "seq", "clock_set", "channel", "unit", "quality", "raw", "corrected"}
}

// Lines writes rounds as lines of CSV (RFC 4180), one for each reading. A cell
// that a spreadsheet might take for a formula begins with an apostrophe.
type Lines struct {
	out  *bufio.Writer
	line []byte
	// What repeats from one round to the next is made safe once.
	cells map[string]string
}

// NewLines writes to w.
func NewLines(w io.Writer) *Lines { return &Lines{out: bufio.NewWriter(w), cells: map[string]string{}} }

// Head writes the names of the columns.
func (l *Lines) Head() error {
	_, err := l.out.WriteString(strings.Join(Columns(), ",") + "\n")
	return err
}

// Add writes the lines of a round.
func (l *Lines) Add(room string, raw, corrected sensors.Round) error {
	for i, x := range raw.Readings {
		b := raw.Time.UTC().AppendFormat(l.line[:0], "2006-01-02T15:04:05.000Z")
		for _, text := range [...]string{room, raw.Node, raw.Boot} {
			b = append(append(b, ','), l.cell(text)...)
		}
		b = strconv.AppendUint(append(b, ','), raw.Seq, 10)
		b = strconv.AppendBool(append(b, ','), raw.ClockSet)
		for _, text := range [...]string{x.Channel.String(), x.Channel.Quantity.Unit(), x.Quality.String()} {
			b = append(append(b, ','), l.cell(text)...)
		}
		if x.Quality == sensors.Missing {
			b = append(b, ",,\n"...)
		} else {
			b = strconv.AppendFloat(append(b, ','), x.Value, 'f', -1, 64)
			b = append(strconv.AppendFloat(append(b, ','), places(corrected.Readings[i].Value), 'f', -1, 64), '\n')
		}
		if l.line = b; len(l.cells) > 10000 {
			clear(l.cells)
		}
		if _, err := l.out.Write(b); err != nil {
			return err
		}
	}
	return nil
}

// places is a corrected value to a ten-thousandth, which no sensor resolves.
func places(v float64) float64 { return math.Round(v*10000) / 10000 }

// cell is the safe form of a text, in quotes where the format needs them.
func (l *Lines) cell(text string) string {
	if c, ok := l.cells[text]; ok {
		return c
	}
	c := Cell(text)
	if strings.ContainsAny(c, ",\"") || c != strings.TrimSpace(c) {
		c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
	}
	l.cells[text] = c
	return c
}

// Flush writes out what is held back.
func (l *Lines) Flush() error { return l.out.Flush() }

// Cell makes text safe in a spreadsheet: what could begin a formula gets an
// apostrophe before it (OWASP, "CSV injection"), and no control character stays.
func Cell(text string) string {
	text = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, text)
	if text != "" && strings.ContainsRune("=+-@'\uff1d\uff0b\uff0d\uff20", []rune(text)[0]) {
		return "'" + text
	}
	return text
}

// EvidenceHash is the digest of lines of CSV without their head.
type EvidenceHash struct {
	sum   hash.Hash
	lines *Lines
}

// NewEvidenceHash begins one.
func NewEvidenceHash() *EvidenceHash {
	h := sha256.New()
	return &EvidenceHash{h, NewLines(h)}
}

// Add takes in a round.
func (h *EvidenceHash) Add(room string, raw, corrected sensors.Round) error {
	return h.lines.Add(room, raw, corrected)
}

// Sum returns the digest.
func (h *EvidenceHash) Sum() (d seal.Digest) {
	if err := h.lines.Flush(); err != nil {
		panic("audit: a hash refused to be written to: " + err.Error())
	}
	h.sum.Sum(d[:0])
	return d
}

// LastLine begins the line after the last reading; the digest of the lines
// between it and the head follows.
const LastLine = "sha256"
