package demo

import (
	"context"
	"fmt"
	"time"

	"recoat/drying"
	"recoat/internal/shop"
	"recoat/internal/shop/schedule"
)

// firstColour is the step of the doors' schedule that their coat is.
const firstColour = 5

// done are the steps that were done before the demo begins: of which part, how
// long ago, and whether they were left out.
var done = []struct {
	part, step int
	ago        time.Duration
	skipped    bool
}{
	{part: 0, step: 1, ago: 28 * time.Hour},
	{part: 0, step: 2, ago: 26 * time.Hour},
	{part: 0, step: 3, ago: 26 * time.Hour, skipped: true}, // the doors were primed before they came
	{part: 0, step: 4, ago: time.Hour},
	{part: 1, step: 1, ago: 4 * time.Hour},
}

// plan gives the doors and the top the schedules of their systems. The doors go
// back only when the top may be handled too.
func plan(ctx context.Context, j *shop.Journal, piece shop.Piece, now time.Time) error {
	for i, id := range []string{"painted-bare", "stain-oil-varnish"} {
		t, ok := schedule.FindTemplate(id)
		if !ok {
			return fmt.Errorf("no template is called %q", id)
		}
		if i == 0 {
			gate(t.Steps, schedule.Wait{Part: 2, Stage: schedule.At(drying.Handle)})
		}
		if err := j.SetSchedule(ctx, piece.Parts[i].ID, t.ID, t.Steps, now); err != nil {
			return err
		}
	}
	for _, d := range done {
		if err := j.TickStep(ctx, piece.Parts[d.part].ID, d.step, now.Add(-d.ago).Truncate(time.Minute), d.skipped, now); err != nil {
			return err
		}
	}
	return nil
}

// gate has the reassembling wait for something more.
func gate(steps []schedule.Step, w schedule.Wait) {
	for i := range steps {
		if steps[i].Kind == schedule.Reassemble {
			steps[i].Waits = append(steps[i].Waits, w)
		}
	}
}
