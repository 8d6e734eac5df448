package shop

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"recoat/drying"
)

// SaveProduct writes a completed product as a product file: what its label
// states, and none of what was assumed. LoadProduct gives the same product
// back.
func SaveProduct(w io.Writer, p drying.Product) error {
	if _, err := cleanName("the product's name", p.Name); err != nil {
		return fmt.Errorf("save the product: %w", err)
	}
	if _, err := io.WriteString(w, writeLabel(&p, func(key string) bool { return !p.IsAssumed(key) })); err != nil {
		return fmt.Errorf("save the product: %w", err)
	}
	return nil
}

// writeLabel writes those keys of a product file that keep wants.
func writeLabel(p *drying.Product, keep func(key string) bool) string {
	var b strings.Builder
	in := ""
	for _, f := range fields {
		if f.absent(p) && !slices.Contains(p.Given, f.key) || !keep(f.key) {
			continue
		}
		table, word := tableAndWord(f.key)
		if table != in {
			in = table
			fmt.Fprintf(&b, "\n[%s]\n", table)
		}
		fmt.Fprintf(&b, "%s = %s\n", word, f.write(p))
	}
	return b.String()
}
