package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"

	"recoat/dashboards/carecard"
	"recoat/internal/follow"
	"recoat/internal/shop"
	"recoat/internal/shop/care"
)

type pieceCardCommand struct {
	journalFlags
	ID   string `arg:"" name:"id" help:"The piece's id, such as p-0001."`
	Out  string `help:"Write it as one sheet to print or to send, an HTML file that needs nothing else." type:"path" placeholder:"FILE.html"`
	Link string `help:"Where that file will stand: the code on the sheet leads there." placeholder:"URL"`
}

// Run writes the card of a piece.
func (c *pieceCardCommand) Run(s *session) error {
	return c.with(s, func(cfg config, j *shop.Journal) error {
		card, err := c.card(s, cfg, j)
		if err != nil {
			return err
		}
		switch {
		case c.Out != "":
			return c.write(card)
		case c.Link != "":
			return usage{errors.New("--link is for the code on the sheet: name its file with --out")}
		case c.JSON:
			return writeJSON(s.stdout, card)
		}
		printCard(s, card)
		return nil
	})
}

// write writes the sheet to its file.
func (c *pieceCardCommand) write(card care.Card) error {
	var sheet bytes.Buffer
	if err := carecard.Render(&sheet, carecard.Sheet{Card: card, Link: c.Link}); err != nil {
		return usage{err}
	}
	if err := os.WriteFile(c.Out, sheet.Bytes(), 0o644); err != nil {
		return fmt.Errorf("write the card: %w", err)
	}
	return nil
}

// card makes the card from the journal and the store.
func (c *pieceCardCommand) card(s *session, cfg config, j *shop.Journal) (card care.Card, err error) {
	_, at, err := c.folder()
	if err != nil {
		return care.Card{}, err
	}
	readings, done, err := openReadings(s.ctx, cfg, at, c.Simulated)
	if err != nil {
		return care.Card{}, err
	}
	defer func() { err = errors.Join(err, done()) }()
	return follow.Reader{Readings: readings, Places: j}.Card(s.ctx, j, c.ID, s.now().Local())
}

func printCard(s *session, c care.Card) {
	fmt.Fprintf(s.stdout, "%s\n\n%s\n\nWhat is on it, from the wood up\n", c.Piece, c.First)
	for _, p := range c.Parts {
		fmt.Fprintf(s.stdout, "  %s %s\n", p.Name, p.Material)
		for _, l := range p.Layers {
			fmt.Fprintf(s.stdout, "    %s (%s), %s %s\n", l.Product, l.Sort, l.Applied.Local().Format("2 January 2006"), l.Mix)
		}
	}
	fmt.Fprintf(s.stdout, "\n%s\n", c.Cure.Text)
	printLines(s, "Until then", c.Until)
	printLines(s, "Always", c.After)
	for _, t := range c.TouchUps {
		fmt.Fprintf(s.stdout, "\nTo touch up: %s of %s\n", t.Amount, t.Name)
		for _, p := range t.Parts {
			fmt.Fprintf(s.stdout, "  %s %s\n", p.Amount, p.Name)
		}
	}
	printLines(s, "Cautions", c.Cautions)
	printLines(s, "Not known", c.Unknown)
}

func printLines(s *session, heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(s.stdout, "\n%s\n", heading)
	for _, line := range lines {
		fmt.Fprintf(s.stdout, "  %s\n", line)
	}
}
