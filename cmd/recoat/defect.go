package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"recoat/internal/audit"
	"recoat/internal/shop"
	"recoat/internal/shop/photo"
)

type coatDefectCommand struct {
	changeFlags
	ID    string   `arg:"" optional:"" name:"id" help:"The coat's id, such as c-0001; without one, the kinds of defects are listed."`
	Kind  string   `help:"What was seen." placeholder:"blushing"`
	Where string   `help:"Where on the part." placeholder:"TEXT"`
	Note  string   `help:"What else is worth knowing." placeholder:"TEXT"`
	Photo string   `help:"A JPEG or PNG of it." type:"path" placeholder:"FILE"`
	At    timeFlag `help:"When it was seen; now if left out." placeholder:"TIME"`
	Undo  string   `help:"A defect's id: it was never there." placeholder:"d-0001"`
}

// Run records a defect, undoes one, or lists what there is to record.
func (c *coatDefectCommand) Run(s *session) error {
	switch {
	case c.Undo != "":
		return c.with(s, func(_ config, j *shop.Journal) error {
			err := j.UndoDefect(c.tapped(s), c.Undo, s.now())
			if err == nil {
				fmt.Fprintf(s.stdout, "%s  undone\n", c.Undo)
			}
			return err
		})
	case c.ID == "":
		return c.list(s)
	}
	if _, known := audit.FindKind(c.Kind); !known {
		return usage{fmt.Errorf("--kind %q: recoat coat defect lists the kinds there are", c.Kind)}
	}
	name, err := c.keep()
	if err != nil {
		return err
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		d, err := j.AddDefect(c.tapped(s), shop.Defect{Coat: c.ID, Seen: c.At.or(s.now()), Kind: c.Kind, Place: c.Where, Note: c.Note, Photo: name}, s.now())
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, d)
		}
		fmt.Fprintf(s.stdout, "%s  %s on %s, seen %s; recoat report --coat %s --out record.pdf says what speaks for which cause\n", d.ID, d.Kind, d.Coat, onClock(d.Seen), d.Coat)
		return nil
	})
}

// keep puts the photo, where there is one, into the folder of photos.
func (c *coatDefectCommand) keep() (name string, err error) {
	if c.Photo == "" {
		return "", nil
	}
	_, at, err := c.folder()
	if err != nil {
		return "", err
	}
	f, err := os.Open(c.Photo)
	if err != nil {
		return "", fmt.Errorf("read the photo: %w", err)
	}
	defer func() { _ = f.Close() }() // it was only read
	name, err = photo.Folder(at.photos()).Put(f)
	var refused *photo.RefusedError
	if errors.As(err, &refused) {
		return "", usage{err}
	}
	return name, err
}

func (c *coatDefectCommand) list(s *session) error {
	for _, k := range audit.Kinds() {
		fmt.Fprintf(s.stdout, "%-22s %s\n", k.Code, strings.TrimSpace(k.Title))
	}
	return nil
}
