package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"recoat/internal/alert"
	"recoat/internal/audit/document"
	"recoat/internal/audit/gather"
	"recoat/internal/seal"
	"recoat/internal/shop/photo"
)

type reportCommand struct {
	journalFlags
	Coat  string `help:"The coat's id." placeholder:"c-0001" xor:"what"`
	Piece string `help:"The piece's id: the record of all its coats." placeholder:"p-0001" xor:"what"`
	Out   string `required:"" help:"Where to: a file that ends in .pdf, .html, .csv or .json." type:"path" placeholder:"FILE"`
	Paper string `help:"Of the PDF: A4 or Letter." enum:"A4,Letter" default:"A4"`
}

// gatherer gathers evidence of what is kept; sealer may be nil.
func (a archive) gatherer(s *session, outbox *alert.Outbox) gather.Gatherer {
	g := gather.Gatherer{Readings: a.readings, Journal: a.journal, Workshop: a.journal, Places: a.journal, Location: time.Local}
	if outbox != nil {
		g.Outbox = outbox
		g.Sealer = &seal.Sealer{Log: a.seals, Readings: a.readings, Journal: a.journal, Now: s.now, Keep: a.keep}
	}
	return g
}

// Run writes the record.
func (c *reportCommand) Run(s *session) (err error) {
	if (c.Coat == "") == (c.Piece == "") {
		return usage{errors.New("say either --coat or --piece")}
	}
	kind := strings.ToLower(filepath.Ext(c.Out))
	if kind != ".pdf" && kind != ".html" && kind != ".csv" && kind != ".json" {
		return usage{fmt.Errorf("%s: a record ends in .pdf, .html, .csv or .json", c.Out)}
	}
	a, err := c.archive(s.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.close()) }()
	outbox, err := alert.OpenOutbox(s.ctx, a.folder.outbox())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, outbox.Close()) }()
	b, err := c.gather(s.ctx, a.gatherer(s, outbox), s.now())
	if err != nil {
		return asked(err)
	}
	if err := writeWhole(c.Out, func(w io.Writer) error { return c.write(s.ctx, w, kind, b, a.photos()) }); err != nil {
		return err
	}
	fmt.Fprintf(s.stdout, "%s: %s, SHA-256 of its JSON %s\n", c.Out, b.Document.Title, b.Document.Digest)
	return nil
}

func (c *reportCommand) gather(ctx context.Context, g gather.Gatherer, now time.Time) (gather.Bundle, error) {
	if c.Piece != "" {
		return g.Piece(ctx, c.Piece, now)
	}
	return g.Document(ctx, c.Coat, now)
}

func (c *reportCommand) write(ctx context.Context, w io.Writer, kind string, b gather.Bundle, photos document.Photos) error {
	switch kind {
	case ".pdf":
		return document.PDF(w, b.Document, b.Evidence, document.Paper(c.Paper), photos)
	case ".html":
		return document.HTML(w, b.Document, b.Evidence, photos)
	case ".csv":
		return document.CSV(ctx, w, b.Document, b.Rounds)
	}
	return document.JSON(w, b.Document)
}

// photos reads the photos that are kept; one that is damaged or gone is none.
func (a archive) photos() document.Photos { return a.folder.photo }

func (f folder) photo(name string) []byte {
	content, _, err := photo.Folder(f.photos()).Get(name)
	if err != nil {
		return nil
	}
	return content
}

// writeWhole writes a file whole, or leaves what was there.
func writeWhole(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".making-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	err = errors.Join(write(f), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("write %s: %w", path, err), os.Remove(f.Name()))
	}
	return nil
}
