package audit

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"recoat/internal/seal"
)

// largestDocument is how many bytes of a document are read: a piece of many
// coats, each with its photo in the HTML, stays far below.
const largestDocument = 256 << 20

// ErrNoDocument says that a file is none of ours.
var ErrNoDocument = errors.New("it is not a record that recoat wrote as JSON, HTML or CSV (of a PDF, keep the JSON beside it)")

// ErrAltered says that a document does not hold together.
var ErrAltered = errors.New("the document was altered")

// Checked is what a file says of itself.
type Checked struct {
	Document *Document   // nil for a CSV
	Evidence seal.Digest // of the readings
	Lines    int         // of readings in a CSV
}

// Check reads a document and says whether it is as it was made: its digest, and
// its seals among themselves. The error is ErrNoDocument, ErrAltered with what
// does not fit, or that of r.
func Check(r io.Reader) (Checked, error) {
	raw, err := io.ReadAll(io.LimitReader(r, largestDocument+1))
	switch {
	case err != nil:
		return Checked{}, err
	case len(raw) > largestDocument:
		return Checked{}, fmt.Errorf("%w: it is larger than %d MiB", ErrNoDocument, largestDocument>>20)
	}
	text := bytes.TrimSpace(raw)
	switch {
	case bytes.HasPrefix(text, []byte("{")):
		return checkJSON(text)
	case bytes.HasPrefix(text, []byte("<!doctype html>")):
		return checkHTML(text)
	case bytes.HasPrefix(text, []byte(strings.Join(Columns(), ","))):
		return checkCSV(raw)
	}
	return Checked{}, ErrNoDocument
}

// DocumentIn is where the HTML holds the document's JSON.
const DocumentIn = `<script type="application/json" id="record">`

// checkHTML checks the JSON in the page. What the page shows beside it is made of
// that, and is not compared.
func checkHTML(text []byte) (Checked, error) {
	_, rest, found := bytes.Cut(text, []byte(DocumentIn))
	inner, _, ended := bytes.Cut(rest, []byte("</script>"))
	if !found || !ended {
		return Checked{}, ErrNoDocument
	}
	return checkJSON(inner)
}

func checkJSON(text []byte) (Checked, error) {
	var d Document
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&d); err != nil {
		if d.Format == FormatName {
			return Checked{}, fmt.Errorf("%w: %w", ErrAltered, err)
		}
		return Checked{}, fmt.Errorf("%w: %w", ErrNoDocument, err)
	}
	if d.Format != FormatName || d.Schema != 1 {
		return Checked{}, ErrNoDocument
	}
	c := Checked{Document: &d, Evidence: d.Evidence}
	// What a reader sees has to be what was decoded: nothing twice, nothing more.
	again, err := json.Marshal(d)
	if err != nil {
		return c, err
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, text); err != nil || !bytes.Equal(compact.Bytes(), again) {
		return c, fmt.Errorf("%w: it holds more than a record does, or the same twice", ErrAltered)
	}
	sum, err := d.Reckon()
	if err != nil {
		return c, err
	}
	if sum != d.Digest {
		return c, fmt.Errorf("%w: its SHA-256 is %s, it says %s", ErrAltered, sum, d.Digest)
	}
	return c, chained(d.Seals)
}

// chained checks seals by themselves, and those that follow each other.
func chained(seals []seal.Seal) error {
	for i, s := range seals {
		if err := s.Check(); err != nil {
			return fmt.Errorf("%w: %w", ErrAltered, err)
		}
		if i > 0 && seals[i-1].Seq+1 == s.Seq {
			if err := s.Follows(seals[i-1]); err != nil {
				return fmt.Errorf("%w: %w", ErrAltered, err)
			}
		}
	}
	return nil
}

// checkCSV compares the lines between the head and the last with the digest
// there.
func checkCSV(raw []byte) (Checked, error) {
	var c Checked
	lines := bufio.NewReader(bytes.NewReader(raw))
	if _, err := lines.ReadString('\n'); err != nil {
		return c, fmt.Errorf("%w: it ends with its head", ErrAltered)
	}
	sum := sha256.New()
	for {
		line, err := lines.ReadBytes('\n')
		if name, digest, _ := bytes.Cut(bytes.TrimRight(line, "\r\n"), []byte(",")); string(name) == LastLine {
			if err := c.Evidence.UnmarshalText(digest); err != nil {
				return c, fmt.Errorf("%w: %w", ErrAltered, err)
			}
			break
		}
		if err != nil {
			return c, fmt.Errorf("%w: its last line, with the digest, is missing", ErrAltered)
		}
		sum.Write(line)
		c.Lines++
	}
	if rest, err := io.ReadAll(lines); err != nil || len(bytes.TrimSpace(rest)) > 0 {
		return c, fmt.Errorf("%w: something follows its last line", ErrAltered)
	}
	if got := seal.Digest(sum.Sum(nil)); got != c.Evidence {
		return c, fmt.Errorf("%w: the SHA-256 of its readings is %s, it says %s", ErrAltered, got, c.Evidence)
	}
	return c, nil
}

// Differences names what of a coat is not as a document has it: the facts that
// were edited since.
func Differences(then, now CoatFacts) ([]string, error) {
	fields := func(f CoatFacts) (map[string]json.RawMessage, error) {
		text, err := json.Marshal(f)
		all := map[string]json.RawMessage{}
		if err == nil {
			err = json.Unmarshal(text, &all)
		}
		return all, err
	}
	a, err := fields(then)
	if err != nil {
		return nil, err
	}
	b, err := fields(now)
	if err != nil {
		return nil, err
	}
	var all []string
	for _, key := range slices.Sorted(maps.Keys(a)) {
		if !bytes.Equal(a[key], b[key]) {
			all = append(all, fmt.Sprintf("%s was %s, is %s", key, a[key], b[key]))
		}
	}
	return all, nil
}
