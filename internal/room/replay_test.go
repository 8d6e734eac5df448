package room

import (
	"strings"
	"testing"
	"time"

	"recoat/drying"
)

// record is a steady room at the label's own conditions, a row every so often.
func record(every, span time.Duration) []drying.Sample {
	var all []drying.Sample
	for d := time.Duration(0); d <= span; d += every {
		all = append(all, drying.Sample{At: evening.Add(d), Conditions: drying.Conditions{Air: 23, Humidity: 50, Surface: 23, SurfaceMeasured: true}})
	}
	return all
}

func rules(r Replayed) string {
	var all []string
	for _, t := range r.Told {
		all = append(all, t.Episode.Key.Rule+" "+t.Cause.String())
	}
	return strings.Join(all, ", ")
}

// The label's own two hours, whatever the pace of the record, and no silence
// between rows that are as far apart as they always are.
func TestARecordIsPlayedAtItsOwnPace(t *testing.T) {
	for _, every := range []time.Duration{time.Minute, 10 * time.Minute, 30 * time.Minute} {
		r := Replay(Config{Room: "record", Title: "Recorded room"}, job(t, "coat", time.Hour, ""), record(every, 5*time.Hour))
		e, _ := find(r.Estimates, drying.DryToRecoat)
		if !e.Reached || e.Likely.Sub(evening) != 3*time.Hour {
			t.Errorf("every %s: %+v", every, e)
		}
		if got := rules(r); got != "ready first" {
			t.Errorf("every %s it tells: %s", every, got)
		}
	}
}

// A row years after the others is a gap, told of once, and takes no time.
func TestALongGapInARecordIsToldOfOnce(t *testing.T) {
	samples := append(record(time.Minute, 5*time.Hour), drying.Sample{At: evening.AddDate(5, 0, 0), Conditions: record(time.Minute, 0)[0].Conditions})
	r := Replay(Config{Room: "record", Title: "Recorded room"}, job(t, "coat", time.Hour, ""), samples)
	if got := rules(r); got != "ready first, silent first, silent cleared" {
		t.Errorf("it tells: %s", got)
	}
	if gap := r.Exposure.To.Sub(r.Exposure.From) - r.Exposure.Covered; gap < 4*365*24*time.Hour {
		t.Errorf("the gap counts as %s", gap)
	}
}
