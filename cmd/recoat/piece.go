package main

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type pieceCommand struct {
	Add   pieceAddCommand   `cmd:"" help:"Add a piece with its parts."`
	List  pieceListCommand  `cmd:"" help:"Every piece and its parts."`
	Show  pieceShowCommand  `cmd:"" help:"One piece, its parts and the coats on them."`
	Place piecePlaceCommand `cmd:"" help:"Say in which room a part is, and which surface probe is on it."`
}

type pieceAddCommand struct {
	journalFlags
	Name string     `arg:"" help:"The piece's name."`
	Part []partFlag `required:"" sep:"none" help:"A part finished separately, with what the board is of and how thick." placeholder:"NAME[:MATERIAL[:THICKNESS]]"`
	Room string     `help:"The room it dries in; the configured one if left out." placeholder:"ID"`
}

type pieceListCommand struct {
	journalFlags
}

type pieceShowCommand struct {
	journalFlags
	ID string `arg:"" name:"id" help:"The piece's id, such as p-0001."`
}

type piecePlaceCommand struct {
	journalFlags
	Part  string `arg:"" help:"The part's id, such as p-0001.1."`
	Room  string `help:"The room; none if left out." placeholder:"ID"`
	Probe string `help:"The surface probe on it; none if left out." placeholder:"ID"`
}

// partFlag takes "top", "top:oak" or "top:oak:22mm".
type partFlag shop.Part

func (f *partFlag) UnmarshalText(text []byte) error {
	fields := strings.Split(string(text), ":")
	if len(fields) > 3 {
		return fmt.Errorf("%s has too many colons: write a part as NAME, NAME:MATERIAL or NAME:MATERIAL:THICKNESS, such as top:oak:22mm", quantity.Quote(string(text)))
	}
	*f = partFlag{Name: fields[0]}
	if len(fields) > 1 {
		f.Material = fields[1]
	}
	if len(fields) < 3 {
		return nil
	}
	var err error
	f.ThicknessMM, err = quantity.ParseThickness(fields[2])
	return err
}

// Run adds a piece.
func (c *pieceAddCommand) Run(s *session) error {
	return c.with(s, func(cfg config, j *shop.Journal) error {
		if err := (&house{cfg: cfg, journal: j}).ensureRoom(s.ctx); err != nil {
			return err
		}
		piece := shop.Piece{Name: c.Name}
		for _, part := range c.Part {
			part.Room = c.Room
			if part.Room == "" {
				part.Room = cfg.Room.ID
			}
			piece.Parts = append(piece.Parts, shop.Part(part))
		}
		piece, err := j.AddPiece(s.ctx, piece, time.Now())
		if err != nil {
			return err
		}
		return c.show(s, []shop.Piece{piece}, piece)
	})
}

// Run lists the pieces.
func (c *pieceListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		pieces, err := j.Pieces(s.ctx)
		if err != nil {
			return err
		}
		if len(pieces) == 0 && !c.JSON {
			fmt.Fprintln(s.stdout, "No piece yet: recoat piece add NAME --part NAME adds one.")
			return nil
		}
		return c.show(s, pieces, append([]shop.Piece{}, pieces...))
	})
}

// show writes pieces, for machines as v.
func (f journalFlags) show(s *session, pieces []shop.Piece, v any) error {
	if f.JSON {
		return writeJSON(s.stdout, v)
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	for _, p := range pieces {
		fmt.Fprintf(w, "%s\t%s\n", p.ID, p.Name)
		for _, part := range p.Parts {
			board := part.Material
			if part.ThicknessMM != 0 {
				board += " " + quantity.FormatThickness(part.ThicknessMM)
			}
			fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\n", part.ID, part.Name, board, part.Room, part.Probe)
		}
	}
	return w.Flush()
}

// pieceReport is a piece with its coats.
type pieceReport struct {
	shop.Piece
	Coats []coatReport `json:"coats"`
}

// Run shows one piece.
func (c *pieceShowCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		piece, err := j.Piece(s.ctx, c.ID)
		if err != nil {
			return err
		}
		coats, err := j.Coats(s.ctx, shop.CoatFilter{Piece: c.ID})
		if err != nil {
			return err
		}
		if err := c.show(s, []shop.Piece{piece}, pieceReport{piece, each(coats, reportCoat)}); err != nil || c.JSON || len(coats) == 0 {
			return err
		}
		fmt.Fprintln(s.stdout)
		return printCoats(s, coats)
	})
}

// Run places a part.
func (c *piecePlaceCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		if err := j.PlacePart(s.ctx, c.Part, c.Room, c.Probe, time.Now()); err != nil {
			return err
		}
		id, _, _ := strings.Cut(c.Part, ".")
		piece, err := j.Piece(s.ctx, id)
		if err != nil {
			return err
		}
		return c.show(s, []shop.Piece{piece}, piece)
	})
}
