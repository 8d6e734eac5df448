package main

import (
	"fmt"
	"strings"
)

// table is a part's wires as a page shows them.
func (p Part) table() string {
	var b strings.Builder
	fmt.Fprintf(&b, "| %s | to | |\n|---|---|---|\n", p.Title)
	for _, w := range p.Wires {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", w.Terminal, w.origin(), w.named())
	}
	return b.String()
}

// named is what the header calls the pin that a wire comes from.
func (w Wire) named() string {
	var pin int
	if _, err := fmt.Sscanf(w.From, "pin %d", &pin); err != nil {
		return ""
	}
	return header[pin-1]
}
