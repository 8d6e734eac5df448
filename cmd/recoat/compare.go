package main

import (
	"errors"
	"fmt"
	"text/tabwriter"
	"time"

	"recoat/dashboards/backend"
	"recoat/internal/audit"
	"recoat/internal/audit/gather"
	"recoat/internal/shop/photo"
)

type compareCommand struct {
	journalFlags
	Coats   []string `arg:"" optional:"" help:"Ids of two coats or more."`
	Product string   `help:"All coats of this product instead." placeholder:"f-0001"`
}

// records make records of coats for the pages.
func (h *house) records() backend.Records {
	return backend.Records{
		Gatherer: gather.Gatherer{Readings: h.store, Journal: h.journal, Workshop: h.journal, Places: h.journal, Outbox: h.outbox, Sealer: h.sealer(), Location: time.Local},
		Journal:  h.journal, Photos: photo.Folder(h.folder.photos()), Now: h.now,
	}
}

// Run lays coats beside each other.
func (c *compareCommand) Run(s *session) (err error) {
	if (len(c.Coats) < 2) == (c.Product == "") {
		return usage{errors.New("name two coats or more, or --product")}
	}
	a, err := c.archive(s.ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.close()) }()
	r := backend.Records{Gatherer: a.gatherer(s, nil), Journal: a.journal, Now: s.now}
	var found audit.Comparison
	if c.Product != "" {
		found, err = r.Uses(s.ctx, c.Product)
	} else {
		found, err = r.Compare(s.ctx, c.Coats)
	}
	if err != nil {
		return asked(err)
	}
	if c.JSON {
		return writeJSON(s.stdout, found)
	}
	return printComparison(s, found)
}

func printComparison(s *session, c audit.Comparison) error {
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	head, out := "", "how it turned out"
	for _, x := range c.Coats {
		head += "\t" + x.ID + " " + onClock(x.Applied)
		out += "\t" + string(x.Result) + ": " + x.Outcome
	}
	fmt.Fprintln(w, head)
	fmt.Fprintln(w, out)
	for _, l := range c.Lines {
		line := l.What
		if l.Unit != "" {
			line += ", " + l.Unit
		}
		for _, v := range l.Values {
			line += "\t" + v
		}
		fmt.Fprintln(w, line)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, sign := range c.Signs {
		fmt.Fprintln(s.stdout, sign)
	}
	if c.Few != "" {
		fmt.Fprintln(s.stdout, c.Few)
	}
	return nil
}
