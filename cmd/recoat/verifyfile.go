package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"recoat/internal/audit"
	"recoat/internal/seal"
)

// fileReport is what was found of a file.
type fileReport struct {
	File     string        `json:"file"`
	Kept     bool          `json:"as_it_was_made"`
	Evidence seal.Digest   `json:"evidence_sha256"`
	Problems []string      `json:"problems"`
	Edited   []string      `json:"edited_since"` // with a record of it
	Store    *seal.Finding `json:"store"`        // null: offline
}

// file checks a record by itself and, unless offline, against this store.
func (c *verifyCommand) file(s *session) error {
	f, err := os.Open(c.File)
	if err != nil {
		return fmt.Errorf("read the record: %w", err)
	}
	checked, err := audit.Check(f)
	_ = f.Close() // it was only read
	r := fileReport{File: c.File, Kept: err == nil, Evidence: checked.Evidence, Problems: []string{}, Edited: []string{}}
	switch {
	case errors.Is(err, audit.ErrAltered):
		r.Problems = append(r.Problems, err.Error())
	case err != nil:
		return fmt.Errorf("%s: %w", c.File, err)
	}
	if !c.Offline {
		if err := c.against(s, checked, &r); err != nil {
			return err
		}
	}
	return c.show(s, r)
}

// against compares a document with the store, the journal and the seals.
func (c *verifyCommand) against(s *session, checked audit.Checked, r *fileReport) (err error) {
	a, err := c.archive(s.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.close()) }()
	found, err := a.verifyAll(s.ctx)
	if err != nil {
		return err
	}
	r.Store = &found
	d := checked.Document
	if d == nil {
		return nil
	}
	known, err := a.seals.Seals(s.ctx)
	if err != nil {
		return err
	}
	hashes := map[int64]seal.Digest{}
	for _, x := range known {
		hashes[x.Seq] = x.Hash
	}
	for _, x := range d.Seals {
		if hash, there := hashes[x.Seq]; !there || hash != x.Hash {
			r.Problems = append(r.Problems, fmt.Sprintf("seal %d of the document (%s %s) is not in this store's chain: it was made elsewhere, or the chain was made anew", x.Seq, x.Room, x.Day))
		}
	}
	for _, then := range d.Coats {
		e, err := a.gatherer(s, nil).Coat(s.ctx, then.Coat.ID, d.Made)
		if err != nil {
			r.Problems = append(r.Problems, then.Coat.ID+": "+err.Error())
			continue
		}
		diff, err := audit.Differences(then.Coat, audit.Build(e).Coat)
		if err != nil {
			return err
		}
		for _, what := range diff {
			r.Edited = append(r.Edited, then.Coat.ID+": "+what)
		}
	}
	return nil
}

func (c *verifyCommand) show(s *session, r fileReport) error {
	switch {
	case c.JSON:
		if err := writeJSON(s.stdout, r); err != nil {
			return err
		}
	default:
		r.print(s)
	}
	if len(r.Problems) > 0 || r.Store != nil && !r.Store.OK() {
		return errAltered
	}
	return nil
}

func (r fileReport) print(s *session) {
	for _, p := range r.Problems {
		fmt.Fprintln(s.stdout, "NOT AS MADE: "+p)
	}
	if r.Kept {
		fmt.Fprintln(s.stdout, "The file is as it was made.")
	}
	for _, e := range r.Edited {
		fmt.Fprintln(s.stdout, "edited since: "+e)
	}
	if r.Store == nil {
		fmt.Fprintln(s.stdout, "Checked by itself alone: whether the store still says the same was not asked.")
		return
	}
	for _, p := range r.Store.Problems {
		fmt.Fprintln(s.stdout, "NOT AS SEALED: "+p.String())
	}
	if r.Store.OK() && len(r.Problems) == 0 {
		fmt.Fprintln(s.stdout, strings.TrimSpace(fmt.Sprintf("The store is as it was sealed: %d days, a chain of %d seals.", r.Store.Days, r.Store.Seals)))
	}
}
