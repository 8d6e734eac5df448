package backend

import (
	"recoat/dashboards"
	"recoat/internal/shop"
)

// NewBook gives the journal's own pages the journal.
func NewBook(j *shop.Journal) dashboards.Book {
	return dashboards.Book{
		Products: j, Shelf: j, Mixes: j, Pieces: j, Parts: j, Steps: j, Coats: j, Adviser: j, Touches: j, Reminders: j, Past: j, News: j,
	}
}
