package backend

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"recoat/dashboards"
	"recoat/internal/audit"
	"recoat/internal/audit/document"
	"recoat/internal/audit/gather"
	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

// Records make records of coats and pieces for the pages.
type Records struct {
	Gatherer gather.Gatherer
	Journal  *shop.Journal
	Photos   photo.Folder
	Now      func() time.Time
}

// Sections are a record as a page shows it.
func (r Records) Sections(ctx context.Context, id string) ([]document.Section, error) {
	b, err := r.bundle(ctx, id)
	if err != nil {
		return nil, err
	}
	return document.Sections(b.Document, b.Evidence), nil
}

// bundle is the record of a coat, or of a piece where the id is one.
func (r Records) bundle(ctx context.Context, id string) (gather.Bundle, error) {
	if strings.HasPrefix(id, "p-") {
		return r.Gatherer.Piece(ctx, id, r.Now())
	}
	return r.Gatherer.Document(ctx, id, r.Now())
}

// Write writes a record as a file.
func (r Records) Write(ctx context.Context, w io.Writer, id, format string) error {
	b, err := r.bundle(ctx, id)
	if err != nil {
		return err
	}
	switch format {
	case "pdf":
		return document.PDF(w, b.Document, b.Evidence, document.A4, r.photo)
	case "letter":
		return document.PDF(w, b.Document, b.Evidence, document.Letter, r.photo)
	case "html":
		return document.HTML(w, b.Document, b.Evidence, r.photo)
	case "csv":
		return document.CSV(ctx, w, b.Document, b.Rounds)
	case "json":
		return document.JSON(w, b.Document)
	}
	return fmt.Errorf("a record is not written as %.20q: %w", format, shop.ErrNotFound)
}

// photo is a photo that is kept; one that is damaged or gone is none.
func (r Records) photo(name string) []byte {
	content, _, err := r.Photos.Get(name)
	if err != nil {
		return nil
	}
	return content
}

// AddDefect takes down a defect, and keeps its photo.
func (r Records) AddDefect(ctx context.Context, d dashboards.DefectRequest) error {
	name := ""
	if d.Photo != nil {
		var err error
		if name, err = r.Photos.Put(d.Photo); err != nil {
			return err
		}
	}
	now := r.Now()
	_, err := r.Journal.AddDefect(ctx, shop.Defect{Coat: d.Coat, Seen: now, Kind: d.Kind, Place: d.Place, Note: d.Note, Photo: name}, now)
	return err
}

// mostCompared bounds how many coats are laid beside each other.
const mostCompared = 40

// Compare lays coats beside each other.
func (r Records) Compare(ctx context.Context, coats []string) (audit.Comparison, error) {
	return r.compare(ctx, "Coats compared", coats)
}

// Uses lays the newest coats of a product beside each other.
func (r Records) Uses(ctx context.Context, product string) (audit.Comparison, error) {
	p, err := r.Journal.Product(ctx, product)
	if err != nil {
		return audit.Comparison{}, err
	}
	all, err := r.Journal.Coats(ctx, shop.CoatFilter{})
	if err != nil {
		return audit.Comparison{}, err
	}
	var ids []string
	for _, c := range all {
		if c.Product.ID == product {
			ids = append(ids, c.ID)
		}
	}
	return r.compare(ctx, "All coats of "+p.Label.Name, ids[max(0, len(ids)-mostCompared):])
}

func (r Records) compare(ctx context.Context, title string, coats []string) (audit.Comparison, error) {
	var records []audit.Record
	for _, id := range coats[:min(len(coats), mostCompared)] {
		e, err := r.Gatherer.Coat(ctx, id, r.Now())
		if err != nil {
			return audit.Comparison{}, err
		}
		records = append(records, audit.Build(e))
	}
	return audit.Compare(title, records), nil
}
