package main

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"recoat/internal/quantity"
	"recoat/internal/shop"
)

type shelfCommand struct {
	Add     shelfAddCommand     `cmd:"" help:"Put a can of a product on the shelf."`
	List    shelfListCommand    `cmd:"" help:"The cans, what is left in them and how long they are good."`
	Open    shelfOpenCommand    `cmd:"" help:"Say that a can was opened."`
	Measure shelfMeasureCommand `cmd:"" help:"Say how much is left in a can."`
}

type shelfAddCommand struct {
	changeFlags
	Product string     `required:"" help:"The product's id." placeholder:"f-0001"`
	Amount  volumeFlag `required:"" help:"How much is in it." placeholder:"750mL"`
	Batch   string     `help:"The can's batch." placeholder:"TEXT"`
	BestBy  dayFlag    `help:"The day that is printed on it." placeholder:"2027-06-30"`
	Keeps   daysFlag   `help:"How long it keeps once opened." placeholder:"180d"`
	Opened  timeFlag   `help:"When it was opened, if it is." placeholder:"TIME"`
}

type shelfListCommand struct {
	journalFlags
	Product string `help:"Only those of this product." placeholder:"ID"`
	Empty   bool   `help:"Empty ones too."`
}

type shelfOpenCommand struct {
	changeFlags
	ID string   `arg:"" name:"id" help:"The can's id, such as s-0001."`
	At timeFlag `help:"When; now if left out." placeholder:"TIME"`
}

type shelfMeasureCommand struct {
	changeFlags
	ID    string      `arg:"" name:"id" help:"The can's id, such as s-0001."`
	Left  *volumeFlag `help:"How much is left." placeholder:"300mL"`
	Empty bool        `help:"Nothing is."`
}

// dayFlag takes a day, and means its end here.
type dayFlag time.Time

func (f *dayFlag) UnmarshalText(text []byte) error {
	day, err := time.ParseInLocation(time.DateOnly, string(text), time.Local)
	if err != nil {
		return fmt.Errorf("%s is not a day: write one such as 2027-06-30", quantity.Quote(string(text)))
	}
	*f = dayFlag(day.AddDate(0, 0, 1).Add(-time.Second))
	return nil
}

// canReport is a can with what to think of.
type canReport struct {
	shop.Can
	Warnings []string `json:"warnings"`
}

// Run puts a can on the shelf.
func (c *shelfAddCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		now := s.now()
		can, err := j.AddCan(c.tapped(s), shop.Can{
			Product: c.Product, Batch: c.Batch, LeftML: float64(c.Amount),
			BestBy: time.Time(c.BestBy), KeepsDays: int64(c.Keeps), Opened: time.Time(c.Opened),
		}, now)
		if err != nil {
			return err
		}
		return c.showCans(s, []shop.Can{can}, now)
	})
}

// Run lists the cans.
func (c *shelfListCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		cans, err := j.Cans(s.ctx, c.Product)
		if err != nil {
			return err
		}
		var shown []shop.Can
		for _, can := range cans {
			if can.LeftML > 0 || c.Empty {
				shown = append(shown, can)
			}
		}
		if len(shown) == 0 && !c.JSON {
			fmt.Fprintln(s.stdout, "No such can: recoat shelf add puts one on the shelf.")
			return nil
		}
		return c.showCans(s, shown, s.now())
	})
}

// showCans writes cans, as a list also where it is one.
func (f journalFlags) showCans(s *session, cans []shop.Can, now time.Time) error {
	reports := each(cans, func(c shop.Can) canReport {
		return canReport{c, append([]string{}, c.Warnings(now, 0)...)}
	})
	if f.JSON {
		return writeJSON(s.stdout, reports)
	}
	w := tabwriter.NewWriter(s.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "id\tproduct\tbatch\tleft\tgood until\tto think of")
	for _, c := range reports {
		until := "not known"
		if t := c.GoodUntil(); !t.IsZero() {
			until = t.Local().Format(time.DateOnly)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", c.ID, c.Name, c.Batch, quantity.FormatVolume(c.LeftML), until, strings.Join(c.Warnings, "; "))
	}
	return w.Flush()
}

// Run says that a can was opened.
func (c *shelfOpenCommand) Run(s *session) error {
	return c.with(s, func(_ config, j *shop.Journal) error {
		now := s.now()
		opened := time.Time(c.At)
		if opened.IsZero() {
			opened = now
		}
		if err := j.OpenCan(c.tapped(s), c.ID, opened, now); err != nil {
			return err
		}
		return c.showCan(s, j, c.ID, now)
	})
}

// Run says how much is left in a can.
func (c *shelfMeasureCommand) Run(s *session) error {
	if (c.Left == nil) != c.Empty {
		return usage{fmt.Errorf("say either --left, such as --left 300mL, or --empty")}
	}
	var left float64
	if c.Left != nil {
		left = float64(*c.Left)
	}
	return c.with(s, func(_ config, j *shop.Journal) error {
		now := s.now()
		if err := j.MeasureCan(c.tapped(s), c.ID, left, now); err != nil {
			return err
		}
		return c.showCan(s, j, c.ID, now)
	})
}

func (f journalFlags) showCan(s *session, j *shop.Journal, id string, now time.Time) error {
	can, err := j.Can(s.ctx, id)
	if err != nil {
		return err
	}
	return f.showCans(s, []shop.Can{can}, now)
}
