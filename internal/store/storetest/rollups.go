package storetest

import (
	"errors"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

func checkRollup(t *testing.T, r store.Readings) {
	add(t, r, "attic",
		round("bench", "b1", 1, at(0), air(20.5), missing()),
		round("bench", "b1", 2, at(time.Minute), air(-3.25), missing()),
		round("bench", "b1", 3, at(2*time.Minute), marked(air(85), sensors.Suspect)),
		round("bench", "b1", 4, at(3*time.Minute), marked(air(30), sensors.Held)),
		round("bench", "b1", 5, at(4*time.Minute), marked(air(30), sensors.Uncalibrated)),
		round("bench", "b1", 6, at(10*time.Minute), air(0.001)))
	series := store.Series{Room: "attic", Node: "bench", Channel: airChannel}
	same(t, "ten minutes", rollups(t, r, series, 10*time.Minute, at(0), at(time.Hour)), []store.Rollup{
		{Start: at(0), Good: 2, Other: 3, Min: -3.25, Max: 20.5, Sum: 17.25},
		{Start: at(10 * time.Minute), Good: 1, Min: 0.001, Max: 0.001, Sum: 0.001},
	})
	same(t, "an hour", rollups(t, r, series, time.Hour, at(0), at(time.Hour)),
		[]store.Rollup{{Start: at(0), Good: 3, Other: 3, Min: -3.25, Max: 20.5, Sum: 17.251}})
	series.Channel = surfaceChannel
	same(t, "nothing good", rollups(t, r, series, time.Hour, at(0), at(time.Hour)), []store.Rollup{{Start: at(0), Other: 2}})
	add(t, r, "attic", round("bench", "b0", 1, at(5*time.Minute), sensors.Reading{Channel: surfaceChannel, Value: -5}))
	same(t, "one good came late", rollups(t, r, series, time.Hour, at(0), at(time.Hour)),
		[]store.Rollup{{Start: at(0), Good: 1, Other: 2, Min: -5, Max: -5, Sum: -5}})
}

func checkRollupBounds(t *testing.T, r store.Readings) {
	for i, d := range []time.Duration{-1, 0, 10 * time.Minute, 20*time.Minute - time.Millisecond, 20 * time.Minute} {
		add(t, r, "attic", round("bench", "b1", uint64(i+1), at(d), air(float64(i))))
	}
	series := store.Series{Room: "attic", Node: "bench", Channel: airChannel}
	starts := func(from, to time.Duration) (got []time.Duration) {
		for _, x := range rollups(t, r, series, 10*time.Minute, at(from), at(to)) {
			got = append(got, x.Start.Sub(dusk))
		}
		return got
	}
	same(t, "aligned", starts(0, 20*time.Minute), []time.Duration{0, 10 * time.Minute})
	same(t, "overlapping at both ends", starts(10*time.Minute-1, 20*time.Minute+1), []time.Duration{0, 10 * time.Minute, 20 * time.Minute})
	same(t, "inside one", starts(12*time.Minute, 13*time.Minute), []time.Duration{10 * time.Minute})
	same(t, "before the hour", starts(-time.Minute, 0), []time.Duration{-10 * time.Minute})
	same(t, "empty", starts(5*time.Minute, 5*time.Minute), []time.Duration(nil))
	if _, err := r.Rollups(t.Context(), series, 15*time.Minute, at(0), at(time.Hour)); !errors.Is(err, store.ErrInvalid) {
		t.Fatalf("a width that is not kept: %v", err)
	}
	series.Node = ""
	same(t, "no node", rollups(t, r, series, time.Hour, at(0), at(time.Hour)), []store.Rollup(nil))
}

func checkCorrectedRollup(t *testing.T, r store.Readings) {
	early := round("bench", "b1", 2, at(-48*time.Hour), air(30))
	early.ClockSet = false
	add(t, r, "attic", round("bench", "b1", 1, at(-48*time.Hour), air(10)), early)
	corrected := early
	corrected.Time, corrected.ClockSet = at(time.Minute), true
	add(t, r, "attic", corrected, round("bench", "b1", 3, at(2*time.Minute), air(31)))
	for _, width := range store.Widths() {
		got := rollups(t, r, store.Series{Room: "attic", Node: "bench", Channel: airChannel}, width, at(-72*time.Hour), at(time.Hour))
		same(t, "the reading went from one bucket to the other", got, []store.Rollup{
			{Start: at(-48 * time.Hour), Good: 1, Min: 10, Max: 10, Sum: 10},
			{Start: at(0), Good: 2, Min: 30, Max: 31, Sum: 61},
		})
	}
}

func checkExtents(t *testing.T, r store.Readings) {
	same(t, "of an empty store", extents(t, r), []store.Extent(nil))
	add(t, r, "cellar", round("bench", "b1", 1, at(time.Minute), air(9)))
	add(t, r, "attic", round("bench", "b1", 2, at(time.Hour), missing()), round("bench", "b1", 1, at(7*time.Second), air(20), rh(50)))
	add(t, r, "attic", round("bench", "b0", 1, at(-26*time.Hour), air(19)))
	attic := func(c sensors.Channel, first, last time.Duration) store.Extent {
		return store.Extent{Series: store.Series{Room: "attic", Node: "bench", Channel: c}, First: at(first), Last: at(last)}
	}
	cellar := store.Extent{Series: store.Series{Room: "cellar", Node: "bench", Channel: airChannel}, First: at(time.Minute), Last: at(time.Minute)}
	same(t, "three channels and another room", extents(t, r), []store.Extent{
		attic(airChannel, -26*time.Hour, 7*time.Second), attic(damp, 7*time.Second, 7*time.Second), attic(surfaceChannel, time.Hour, time.Hour), cellar,
	})
	add(t, r, "attic", round("bench", "b0", 1, at(time.Second), rh(40)))
	same(t, "after a round was replaced", extents(t, r), []store.Extent{
		attic(airChannel, 7*time.Second, 7*time.Second), attic(damp, time.Second, 7*time.Second), attic(surfaceChannel, time.Hour, time.Hour), cellar,
	})
}
