package shop

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"recoat/drying"
	"recoat/internal/quantity"
)

// maxLabel is how many bytes a product file may have.
const maxLabel = 64 << 10

// LoadProductFile reads a product file.
func LoadProductFile(path string) (drying.Product, error) {
	f, err := os.Open(path)
	if err != nil {
		return drying.Product{}, fmt.Errorf("read the product: %w", err)
	}
	defer f.Close()
	return LoadProduct(f, path)
}

// LoadProduct reads a product file and completes the product with its kind's
// defaults. An error starts with name and says the line, the key, what was
// wrong and what would be right; it holds all that is wrong, a line for each.
func LoadProduct(r io.Reader, name string) (drying.Product, error) {
	label, err := io.ReadAll(io.LimitReader(r, maxLabel+1))
	if err != nil {
		return drying.Product{}, fmt.Errorf("read the product %s: %w", name, err)
	}
	p, err := parseLabel(label)
	if err == nil {
		p, err = p.Complete()
	}
	if err != nil {
		return drying.Product{}, fmt.Errorf("%s: %w", name, err)
	}
	return p, nil
}

// parseLabel takes a product from the text of a product file, and nothing from
// anywhere else.
func parseLabel(label []byte) (drying.Product, error) {
	if len(label) > maxLabel {
		return drying.Product{}, fmt.Errorf("the file is larger than %d KiB: a product file has a few lines", maxLabel>>10)
	}
	entries, err := readEntries(label)
	if err != nil {
		return drying.Product{}, err
	}
	var p drying.Product
	var wrong []error
	for _, e := range entries {
		p.Given = append(p.Given, e.key)
		if err := e.setIn(&p); err != nil {
			wrong = append(wrong, e.at(err))
		}
	}
	for _, f := range fields {
		if f.example != "" && !slices.Contains(p.Given, f.key) {
			wrong = append(wrong, fmt.Errorf("%s is missing: every product needs it, such as %s", f.key, f.example))
		}
	}
	slices.Sort(p.Given)
	return p, errors.Join(wrong...)
}

// entry is one key of a file with its value as it was written.
type entry struct {
	key   string
	value any
	line  int // 0: not known
}

func (e entry) at(err error) error {
	if e.line == 0 {
		return err
	}
	return fmt.Errorf("line %d: %w", e.line, err)
}

func (e entry) setIn(p *drying.Product) error {
	i := slices.IndexFunc(fields, func(f field) bool { return f.key == e.key })
	if i < 0 {
		return fmt.Errorf("%s is not a key of a product file: %s", quantity.Quote(e.key), suggest(e.key))
	}
	if fields[i].rows != nil {
		rows, ok := e.value.([]any)
		if !ok {
			return fmt.Errorf("%s takes a list of tables, such as %s", e.key, furtherExample)
		}
		return fields[i].rows(p, rows)
	}
	return e.set(p, fields[i])
}

// set takes the one value of a key.
func (e entry) set(p *drying.Product, f field) error {
	var written string
	switch v := e.value.(type) {
	case string:
		written = v
	case int64:
		written = strconv.FormatInt(v, 10)
	case float64:
		written = strconv.FormatFloat(v, 'f', -1, 64)
	default:
		return fmt.Errorf("%s takes one value in quotation marks, not a list, a table, a date or a truth value", e.key)
	}
	if err := f.set(p, written); err != nil {
		return fmt.Errorf("%s: %w", e.key, err)
	}
	return nil
}

// readEntries returns the keys of a TOML text in the order of its lines.
func readEntries(label []byte) ([]entry, error) {
	var doc map[string]any
	if err := toml.Unmarshal(label, &doc); err != nil {
		var where *toml.DecodeError
		if errors.As(err, &where) {
			line, _ := where.Position()
			return nil, fmt.Errorf("line %d cannot be read: %s", line, strings.TrimPrefix(err.Error(), "toml: "))
		}
		return nil, err
	}
	entries := flatten("", doc, keyLines(label))
	sort.Slice(entries, func(i, j int) bool {
		return cmp.Or(cmp.Compare(entries[i].line, entries[j].line), cmp.Compare(entries[i].key, entries[j].key)) < 0
	})
	return entries, nil
}

func flatten(prefix string, table map[string]any, lines map[string]int) []entry {
	var all []entry
	for name, value := range table {
		key := prefix + name
		inner, isTable := value.(map[string]any)
		_, known := tables[key]
		if isTable && (known || len(inner) > 0) {
			all = append(all, flatten(key+".", inner, lines)...)
			continue
		}
		all = append(all, entry{key, value, lineOf(key, lines)})
	}
	return all
}

// tables are those of a product file. Decoding into one that has no fields
// makes the strict decoder report each of its keys.
var tables = map[string]struct{}{"stated": {}, "limits": {}}

// keyLines finds the line of every key: the strict decoder reports each key
// that it has no place for with its position, so it is given no place at all.
func keyLines(label []byte) map[string]int {
	var nowhere struct {
		Stated, Limits struct{}
	}
	err := toml.NewDecoder(bytes.NewReader(label)).DisallowUnknownFields().Decode(&nowhere)
	lines := map[string]int{}
	var missing *toml.StrictMissingError
	if errors.As(err, &missing) {
		for i := range missing.Errors {
			e := &missing.Errors[i]
			line, _ := e.Position()
			lines[strings.Join(e.Key(), ".")] = line
		}
	}
	return lines
}

// lineOf falls back on the line of the table around a key.
func lineOf(key string, lines map[string]int) int {
	for {
		if line, ok := lines[key]; ok {
			return line
		}
		i := strings.LastIndexByte(key, '.')
		if i < 0 {
			return 0
		}
		key = key[:i]
	}
}
