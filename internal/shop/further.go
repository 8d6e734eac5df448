package shop

import (
	"fmt"
	"slices"
	"strings"

	"recoat/drying"
	"recoat/internal/quantity"
)

const (
	furtherKey     = "stated.also"
	furtherExample = `[{air = "10C", rh = 50, recoat = "6h"}]`
)

// further is the key of a label's times at further conditions: a list of tables
// that each hold air, rh and some of the stage times.
func further() field {
	return field{
		key:    furtherKey,
		rows:   readFurther,
		write:  func(p *drying.Product) string { return writeFurther(p.Further) },
		absent: func(p *drying.Product) bool { return len(p.Further) == 0 },
	}
}

// rowFields are the keys of one row, by the word that it has in the row.
func rowFields() map[string]field {
	of := map[string]field{}
	for _, f := range fieldsOfRow() {
		_, word := tableAndWord(f.key)
		of[word] = f
	}
	return of
}

// fieldsOfRow are those keys of [stated] that a row may hold, in the order in
// which they are written.
func fieldsOfRow() []field {
	all := []field{
		always("stated.air", airOf, temperature),
		always("stated.rh", humidityOf, humidity),
	}
	for _, s := range drying.Stages() {
		all = append(all, stage(s))
	}
	return all
}

func readFurther(p *drying.Product, rows []any) error {
	for i, row := range rows {
		table, ok := row.(map[string]any)
		if !ok {
			return fmt.Errorf("%s, row %d, is no table: write it such as %s", furtherKey, i+1, furtherExample)
		}
		one, err := readRow(table)
		if err != nil {
			return fmt.Errorf("%s, row %d: %w", furtherKey, i+1, err)
		}
		p.Further = append(p.Further, one)
	}
	return nil
}

// readRow reads a row as if it were the [stated] of a product of its own.
func readRow(table map[string]any) (drying.Further, error) {
	known := rowFields()
	var alone drying.Product
	words := make([]string, 0, len(table))
	for word := range table {
		words = append(words, word)
	}
	slices.Sort(words)
	for _, word := range words {
		f, ok := known[word]
		if !ok {
			return drying.Further{}, fmt.Errorf("%s is not a key of a row: air, rh and the words of the stages are", quantity.Quote(word))
		}
		if err := (entry{key: word, value: table[word]}).set(&alone, f); err != nil {
			return drying.Further{}, err
		}
	}
	for _, word := range []string{"air", "rh"} {
		if _, ok := table[word]; !ok {
			return drying.Further{}, fmt.Errorf("%s is missing: every row needs it, such as %s", word, furtherExample)
		}
	}
	return drying.Further{Air: alone.Stated.Air, Humidity: alone.Stated.Humidity, Times: alone.Stated.Times}, nil
}

func writeFurther(rows []drying.Further) string {
	var b strings.Builder
	b.WriteString("[\n")
	for _, row := range rows {
		alone := drying.Product{Stated: drying.Stated{Air: row.Air, Humidity: row.Humidity, Times: row.Times}}
		var parts []string
		for _, f := range fieldsOfRow() {
			if !f.absent(&alone) {
				_, word := tableAndWord(f.key)
				parts = append(parts, word+" = "+f.write(&alone))
			}
		}
		b.WriteString("  {" + strings.Join(parts, ", ") + "},\n")
	}
	return b.String() + "]"
}
