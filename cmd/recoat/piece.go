package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type pieceCommand struct {
	Add       pieceAddCommand       `cmd:"" help:"Add a piece with its parts."`
	List      pieceListCommand      `cmd:"" help:"The pieces and their parts, the newest first."`
	Show      pieceShowCommand      `cmd:"" help:"One piece, its parts and the coats on them."`
	Edit      pieceEditCommand      `cmd:"" help:"Change what is written of a piece."`
	Part      piecePartCommand      `cmd:"" help:"Change what is written of a part."`
	Place     piecePlaceCommand     `cmd:"" help:"Say in which room a part is, and which surface probe is on it."`
	Duplicate pieceDuplicateCommand `cmd:"" help:"Add a piece with the parts and schedules of another."`
	Photo     piecePhotoCommand     `cmd:"" help:"Keep a photo of a piece."`
	Moisture  pieceMoistureCommand  `cmd:"" help:"Record what a moisture meter says of a part's wood."`
	Deliver   pieceDeliverCommand   `cmd:"" help:"Say that a piece has left the room."`
	Schedule  pieceScheduleCommand  `cmd:"" help:"What is next on each part, what it waits for, and when."`
	Card      pieceCardCommand      `cmd:"" help:"The card for its buyer: what is on it, how to treat it, until when."`
	Plan      piecePlanCommand      `cmd:"" help:"Give a part its steps, from a template or a file."`
	Templates pieceTemplatesCommand `cmd:"" help:"The schedules of common systems."`
	Tick      pieceTickCommand      `cmd:"" help:"Say that a step is done, or skipped."`
	Untick    pieceUntickCommand    `cmd:"" help:"Take back that a step is done."`
}

type pieceAddCommand struct {
	changeFlags
	Name   string     `arg:"" help:"The piece's name."`
	Part   []partFlag `required:"" sep:"none" help:"A part finished separately, with what the board is of and how thick." placeholder:"NAME[:MATERIAL[:THICKNESS]]"`
	Room   string     `help:"The room it dries in; the configured one if left out." placeholder:"ID"`
	Note   string     `help:"A note." placeholder:"TEXT"`
	Client string     `help:"A note on the client, for you alone: it is never sent or printed." placeholder:"TEXT"`
}

type pieceListCommand struct {
	journalFlags
	Search   string `help:"Only those with this in a name, note, part, material or product, or a batch that begins with it." placeholder:"TEXT"`
	Archived bool   `help:"Those in the archive instead."`
	Before   string `help:"Only those added before this one: the next page." placeholder:"p-0001"`
	Limit    int    `help:"At most so many, up to 200." default:"200" placeholder:"N"`
}

type pieceShowCommand struct {
	journalFlags
	ID string `arg:"" name:"id" help:"The piece's id, such as p-0001."`
}

type pieceEditCommand struct {
	changeFlags
	ID     string  `arg:"" name:"id" help:"The piece's id, such as p-0001."`
	Name   *string `help:"Its name." placeholder:"TEXT"`
	Note   *string `help:"A note." placeholder:"TEXT"`
	Client *string `help:"A note on the client, for you alone." placeholder:"TEXT"`
	Here   bool    `help:"It was not delivered after all."`
}

type piecePartCommand struct {
	changeFlags
	Part      string         `arg:"" help:"The part's id, such as p-0001.1."`
	Name      *string        `help:"Its name." placeholder:"TEXT"`
	Material  *string        `help:"What the board is of." placeholder:"TEXT"`
	Thickness *thicknessFlag `help:"How thick the board is." placeholder:"22mm"`
}

type piecePlaceCommand struct {
	changeFlags
	Part  string `arg:"" help:"The part's id, such as p-0001.1."`
	Room  string `help:"The room; none if left out." placeholder:"ID"`
	Probe string `help:"The surface probe on it; none if left out." placeholder:"ID"`
}

type pieceDuplicateCommand struct {
	changeFlags
	ID   string `arg:"" name:"id" help:"The piece to take after, such as p-0001."`
	Name string `arg:"" help:"The new piece's name."`
}

type pieceMoistureCommand struct {
	changeFlags
	Part  string         `arg:"" help:"The part's id, such as p-0001.1."`
	Wood  humidityFlag   `required:"" help:"What the meter says." placeholder:"9%"`
	Depth *thicknessFlag `help:"How deep it measured." placeholder:"5mm"`
	At    timeFlag       `help:"When; now if left out." placeholder:"TIME"`
	Note  string         `help:"A note, such as the species that the meter was set to." placeholder:"TEXT"`
}

type pieceDeliverCommand struct {
	changeFlags
	ID string   `arg:"" name:"id" help:"The piece's id, such as p-0001."`
	At timeFlag `help:"When; now if left out." placeholder:"TIME"`
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
		piece := shop.Piece{Name: c.Name, Note: c.Note, Client: c.Client}
		for _, part := range c.Part {
			part.Room = c.Room
			if part.Room == "" {
				part.Room = cfg.Room.ID
			}
			piece.Parts = append(piece.Parts, shop.Part(part))
		}
		piece, err := j.AddPiece(c.tapped(s), piece, s.now())
		if err != nil {
			return err
		}
		return c.show(s, []shop.Piece{piece}, piece)
	})
}

// Run lists the pieces.
func (c *pieceListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		pieces, err := j.ListPieces(s.ctx, shop.PieceFilter{Text: c.Search, Archived: c.Archived, Before: c.Before, Limit: c.Limit})
		if err != nil {
			return err
		}
		if len(pieces) == 0 && !c.JSON {
			fmt.Fprintln(s.stdout, "No piece yet, or none like that: recoat piece add NAME --part NAME adds one.")
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
		state := ""
		if !p.Delivered.IsZero() {
			state = "delivered " + onClock(p.Delivered)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", p.ID, p.Name, state)
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

// pieceReport is a piece with what was done to it.
type pieceReport struct {
	shop.Piece
	Coats    []coatReport    `json:"coats"`
	Moisture []shop.Moisture `json:"moisture"`
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
		moisture, err := j.Moistures(s.ctx, c.ID)
		if err != nil {
			return err
		}
		report := pieceReport{piece, each(coats, reportCoat), append([]shop.Moisture{}, moisture...)}
		if err := c.show(s, []shop.Piece{piece}, report); err != nil || c.JSON {
			return err
		}
		for _, note := range []string{piece.Note, piece.Client} {
			if note != "" {
				fmt.Fprintln(s.stdout, note)
			}
		}
		for _, m := range moisture {
			fmt.Fprintf(s.stdout, "%s  %s: wood at %g %% on %s %s\n", m.ID, m.Part, m.WoodPct, onClock(m.At), m.Note)
		}
		if len(coats) == 0 {
			return nil
		}
		fmt.Fprintln(s.stdout)
		return printCoats(s, coats)
	})
}

// pieceChanged changes a piece, or a part of it, and shows it.
func (f changeFlags) pieceChanged(s *session, change func(context.Context, *shop.Journal) (shop.Piece, error)) error {
	return f.with(s, func(_ config, j *shop.Journal) error {
		piece, err := change(f.tapped(s), j)
		if err != nil {
			return err
		}
		return f.show(s, []shop.Piece{piece}, piece)
	})
}

// Run changes what is written of a piece.
func (c *pieceEditCommand) Run(s *session) error {
	e := shop.PieceEdit{Name: c.Name, Note: c.Note, Client: c.Client}
	if c.Here {
		e.Delivered = &time.Time{}
	}
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		return j.EditPiece(ctx, c.ID, e, s.now())
	})
}

// Run changes what is written of a part.
func (c *piecePartCommand) Run(s *session) error {
	e := shop.PartEdit{Name: c.Name, Material: c.Material, ThicknessMM: number[float64](c.Thickness)}
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		return j.EditPart(ctx, c.Part, e, s.now())
	})
}

// Run places a part.
func (c *piecePlaceCommand) Run(s *session) error {
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		if err := j.PlacePart(ctx, c.Part, c.Room, c.Probe, s.now()); err != nil {
			return shop.Piece{}, err
		}
		id, _, _ := strings.Cut(c.Part, ".")
		return j.Piece(ctx, id)
	})
}

// Run adds a piece like another.
func (c *pieceDuplicateCommand) Run(s *session) error {
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		return j.DuplicatePiece(ctx, c.ID, c.Name, s.now())
	})
}

// Run says that a piece has left the room.
func (c *pieceDeliverCommand) Run(s *session) error {
	at := c.At.or(s.now())
	return c.pieceChanged(s, func(ctx context.Context, j *shop.Journal) (shop.Piece, error) {
		return j.EditPiece(ctx, c.ID, shop.PieceEdit{Delivered: &at}, s.now())
	})
}

// Run records what a moisture meter says.
func (c *pieceMoistureCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		m := shop.Moisture{Part: c.Part, At: c.At.or(s.now()), WoodPct: float64(c.Wood), Note: c.Note}
		if c.Depth != nil {
			m.DepthMM = float64(*c.Depth)
		}
		m, err := j.AddMoisture(c.tapped(s), m, s.now())
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, m)
		}
		fmt.Fprintf(s.stdout, "%s  %s: wood at %g %%\n", m.ID, m.Part, m.WoodPct)
		return nil
	})
}
