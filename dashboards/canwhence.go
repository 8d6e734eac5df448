package dashboards

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"recoat/internal/shop"
)

// filling is what a can held when somebody last said so.
type filling struct {
	at  time.Time
	ml  float64
	how string
}

// fillings are the last that was said of each can.
func (s *server) fillings(ctx context.Context, cans []shop.Can) (map[string]filling, error) {
	all := map[string]filling{}
	for _, c := range cans {
		changes, err := s.book.Past.ChangesOf(ctx, c.ID)
		if err != nil {
			return nil, err
		}
		for _, change := range changes {
			if f, said := fillingIn(change); said {
				all[c.ID] = f
			}
		}
	}
	return all, nil
}

// fillingIn reads what a change says of the amount in a can; false where it left
// that as it was.
func fillingIn(c shop.Change) (filling, bool) {
	var before, after struct {
		LeftML *float64 `json:"left_ml"`
	}
	if json.Unmarshal(c.After, &after) != nil || after.LeftML == nil {
		return filling{}, false
	}
	if json.Unmarshal(c.Before, &before) == nil && before.LeftML != nil {
		return filling{c.At, *after.LeftML, "measured"}, *before.LeftML != *after.LeftML
	}
	return filling{c.At, *after.LeftML, "put on the shelf"}, true
}

// canFrom says how the amount in a can and its last day were come by.
func (w words) canFrom(c shop.Can, f filling, coats []shop.Coat, now time.Time) []string {
	var out []string
	text, left := "", f.ml
	if f.how != "" {
		text = capital(f.how) + " with " + volumeWords(f.ml) + " at " + w.clock(f.at, now) + "."
	}
	for _, coat := range coats {
		if coat.Can != c.ID || coat.UsedML == 0 || !coat.Recorded.After(f.at) {
			continue
		}
		left -= coat.UsedML
		text += fmt.Sprintf(" Less %s for a coat on %s, %s, at %s.", volumeWords(coat.UsedML), coat.Piece, coat.Part.Name, w.clock(coat.Applied, now))
	}
	if d := left - c.LeftML; d > 0.5 || d < -0.5 {
		text += " What was corrected or taken back since is counted too."
	}
	out = append(out, sentence(text+" That leaves "+volumeWords(c.LeftML)+", as far as was told."))
	if c.GoodUntil().IsZero() {
		return out
	}
	text, first := "", "."
	if !c.BestBy.IsZero() {
		text = "The day on the can is " + w.date(c.BestBy) + ". "
	}
	if !c.Opened.IsZero() && c.KeepsDays > 0 {
		text += fmt.Sprintf("Opened %s, it keeps %d days: until %s. ", w.date(c.Opened), c.KeepsDays, w.date(c.Opened.Add(time.Duration(c.KeepsDays)*24*time.Hour)))
	}
	if !c.BestBy.IsZero() && !c.Opened.IsZero() && c.KeepsDays > 0 {
		first = ", whichever comes first."
	}
	return append(out, text+"So it is good until "+w.date(c.GoodUntil())+first)
}
