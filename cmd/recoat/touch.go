package main

import (
	"fmt"
	"text/tabwriter"

	"recoat/internal/follow"
	"recoat/internal/shop"
)

type touchCommand struct {
	Add  touchAddCommand  `cmd:"" help:"Record what was found by touch; it teaches the model."`
	Undo touchUndoCommand `cmd:"" help:"Mark a touch test as never made; it teaches nothing any more."`
	List touchListCommand `cmd:"" help:"The touch tests of a coat."`
}

type touchAddCommand struct {
	changeFlags
	Coat  string   `required:"" help:"The coat's id." placeholder:"c-0001"`
	Found string   `required:"" help:"What was found: wet, tacky or dry." placeholder:"wet|tacky|dry"`
	At    timeFlag `help:"When; now if left out." placeholder:"TIME"`
}

type touchUndoCommand struct {
	changeFlags
	ID string `arg:"" name:"id" help:"The touch test's id, such as t-0001."`
}

type touchListCommand struct {
	journalFlags
	Coat string `required:"" help:"The coat's id." placeholder:"c-0001"`
}

// touchReport is a touch test with what was reckoned.
type touchReport struct {
	shop.Touch
	Answer follow.Answer `json:"answer"`
}

// Run records a touch test, and answers with what was reckoned.
func (c *touchAddCommand) Run(s *session) error {
	return c.with(s, func(cfg config, j *shop.Journal) error {
		touch, err := j.AddTouch(c.tapped(s), shop.Touch{Coat: c.Coat, At: c.At.or(s.now()), Feel: shop.Feel(c.Found)}, s.now())
		if err != nil {
			return err
		}
		answer, err := c.answer(s, cfg, j, touch)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, touchReport{touch, answer})
		}
		fmt.Fprintf(s.stdout, "%s  %s was %s at %s\n%s\n", touch.ID, touch.Coat, touch.Feel, onClock(touch.At), answer.Sentence)
		return nil
	})
}

// answer is what was reckoned of the coat at the time of the test.
func (c *touchAddCommand) answer(s *session, cfg config, j *shop.Journal, touch shop.Touch) (follow.Answer, error) {
	coat, err := j.Coat(s.ctx, touch.Coat)
	if err != nil {
		return follow.Answer{}, err
	}
	piece, err := j.Piece(s.ctx, coat.PieceID)
	if err != nil {
		return follow.Answer{}, err
	}
	var answer follow.Answer
	err = c.reading(s, cfg, j, func(r follow.Reader) error {
		known, err := r.Coat(s.ctx, coat, piece.Delivered, touch.At)
		answer = follow.NewAnswer(known, touch.Feel, touch.At)
		return err
	})
	return answer, err
}

// Run undoes a touch test.
func (c *touchUndoCommand) Run(s *session) error {
	return c.done(s, func(j *shop.Journal) error { return j.UndoTouch(c.tapped(s), c.ID, s.now()) }, c.ID, "undone")
}

// Run lists the touch tests of a coat.
func (c *touchListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		if _, err := j.Coat(s.ctx, c.Coat); err != nil {
			return err
		}
		touches, err := j.Touches(s.ctx, c.Coat)
		if err != nil {
			return err
		}
		if c.JSON {
			return writeJSON(s.stdout, append([]shop.Touch{}, touches...))
		}
		w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "id\ttouched\tfound")
		for _, t := range touches {
			fmt.Fprintf(w, "%s\t%s\t%s\n", t.ID, onClock(t.At), t.Feel)
		}
		return w.Flush()
	})
}
