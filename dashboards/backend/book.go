package backend

import (
	"recoat/dashboards"
	"recoat/internal/shop"
)

// NewBook gives the journal's own pages the journal.
func NewBook(j *shop.Journal) dashboards.Book {
	return dashboards.Book{Products: j, Shelf: j, Mixes: j}
}
