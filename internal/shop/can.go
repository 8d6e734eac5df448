package shop

import (
	"fmt"
	"time"

	"recoat/internal/quantity"
)

// Can is one can of a product on the shelf.
type Can struct {
	ID        string    `json:"id"`
	Product   string    `json:"product"` // id
	Name      string    `json:"product_name"`
	Batch     string    `json:"batch"`
	LeftML    float64   `json:"left_ml"`
	BestBy    time.Time `json:"best_by,omitzero"` // zero: not known
	KeepsDays int64     `json:"keeps_d"`          // once opened; 0: not known
	Opened    time.Time `json:"opened,omitzero"`  // zero: it is not
	Added     time.Time `json:"added"`
	Archived  time.Time `json:"archived,omitzero"` // zero: it is not
}

// What a can may be.
const (
	LargestCanML  = 1e6
	LongestKept   = 20 * 366 // days
	lastBestBy    = 50 * 366 * day
	warnBeforeEnd = 14 * day
	day           = 24 * time.Hour
)

func checkUsed(ml float64) error {
	if ml >= 0 && ml <= LargestCanML {
		return nil
	}
	return &InputError{"the amount used", fmt.Sprintf("of %g mL cannot be: 0 to %g mL", ml, LargestCanML)}
}

// GoodUntil is when the can should be used up by: the day on it, or as long as
// it keeps once opened, whichever comes first. Zero: not known.
func (c Can) GoodUntil() time.Time {
	until := c.BestBy
	if !c.Opened.IsZero() && c.KeepsDays > 0 {
		if open := c.Opened.Add(time.Duration(c.KeepsDays) * day); until.IsZero() || open.Before(until) {
			until = open
		}
	}
	return until
}

// dayWords is how a sentence tells a day.
const dayWords = "2 Jan 2006"

// Warnings says what to think of before a coat is put on out of the can, with
// needed millilitres, or 0 where that is not known. Days are told on at's clock.
// None of it forbids.
func (c Can) Warnings(at time.Time, needed float64) []string {
	var all []string
	until := c.GoodUntil().In(at.Location())
	switch {
	case until.IsZero():
	case !at.Before(until):
		all = append(all, fmt.Sprintf("was good until %s: stir it, look for skin, lumps and smell, and try it on a spare board first", until.Format(dayWords)))
	case until.Sub(at) < warnBeforeEnd:
		all = append(all, fmt.Sprintf("is good until %s only", until.Format(dayWords)))
	}
	switch {
	case c.LeftML <= 0:
		all = append(all, "is empty as far as the journal knows")
	case needed > c.LeftML:
		all = append(all, fmt.Sprintf("holds about %s, less than the %s that are needed", quantity.FormatVolume(c.LeftML), quantity.FormatVolume(needed)))
	}
	return all
}

func (c *Can) clean(at time.Time) error {
	var err error
	if c.Batch, err = cleanText("the batch", c.Batch, LongestName); err != nil {
		return err
	}
	if !(c.LeftML > 0 && c.LeftML <= LargestCanML) {
		return &InputError{"the amount in the can", fmt.Sprintf("of %g mL cannot be: above 0 to %g mL", c.LeftML, LargestCanML)}
	}
	if c.KeepsDays < 0 || c.KeepsDays > LongestKept {
		return &InputError{"the time that it keeps once opened", fmt.Sprintf("of %d days cannot be: up to %d, or leave it out", c.KeepsDays, LongestKept)}
	}
	if !c.BestBy.IsZero() && (c.BestBy.Before(earliest) || c.BestBy.After(at.Add(lastBestBy))) {
		return &InputError{"the day on the can", "lies too far off: give the one that is printed on it"}
	}
	if !c.Opened.IsZero() {
		return checkTime("the day it was opened", c.Opened, at)
	}
	return nil
}
