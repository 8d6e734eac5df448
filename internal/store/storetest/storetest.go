// Package storetest holds every store of readings to the same behaviour.
package storetest

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"recoat/internal/store"
	"recoat/sensors"
)

// Run checks a store against the contract of store.Readings. open returns an
// empty store and cleans up after itself.
func Run(t *testing.T, open func(t *testing.T) store.Readings) {
	for name, check := range map[string]func(*testing.T, store.Readings){
		"canonical form":      checkCanonical,
		"delivered twice":     checkIdempotence,
		"replaced":            checkReplacement,
		"unset clock late":    checkUnsetClockNeverReplaces,
		"foreign merged":      checkForeign,
		"order":               checkOrder,
		"bounds":              checkBounds,
		"rollup":              checkRollup,
		"rollup bounds":       checkRollupBounds,
		"corrected time":      checkCorrectedRollup,
		"extents":             checkExtents,
		"refusals":            checkRefusals,
		"cancelled":           checkCancellation,
		"callback":            checkCallback,
		"apart":               checkRoomsApart,
		"random against maps": checkRandom,
	} {
		t.Run(name, func(t *testing.T) { check(t, open(t)) })
	}
}

// Durable checks that what Append acknowledged is there after closing and
// opening again. open is called twice on one new folder.
func Durable(t *testing.T, open func(t *testing.T, folder string) (r store.Readings, shut func() error)) {
	folder := t.TempDir()
	first, shut := open(t, folder)
	rounds := []sensors.Round{round("bench", "b1", 1, at(0), air(20)), round("bench", "b1", 2, at(10*time.Minute), air(21), missing())}
	add(t, first, "attic", rounds...)
	was := look(t, first, "attic")
	if err := shut(); err != nil {
		t.Fatal(err)
	}
	again, shut := open(t, folder)
	same(t, "after opening again", look(t, again, "attic"), was)
	add(t, again, "attic", rounds...)
	same(t, "after a delivery from before", look(t, again, "attic"), was)
	if err := shut(); err != nil {
		t.Fatal(err)
	}
}

// dusk is a whole hour in UTC, so it begins a bucket of either width.
var dusk = time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)

func at(d time.Duration) time.Time { return dusk.Add(d) }

func round(node, boot string, seq uint64, at time.Time, readings ...sensors.Reading) sensors.Round {
	r := sensors.Round{Node: node, Boot: boot, Seq: seq, Time: at, ClockSet: true, Readings: readings}
	if boot == "" {
		r.Seq = uint64(at.UnixMilli())
	}
	return r
}

var (
	airChannel     = sensors.Channel{Quantity: sensors.AirTemperature}
	damp           = sensors.Channel{Quantity: sensors.AirHumidity}
	surfaceChannel = sensors.Channel{Quantity: sensors.SurfaceTemperature, Probe: "28-00000a"}
)

func air(c float64) sensors.Reading { return sensors.Reading{Channel: airChannel, Value: c} }
func rh(p float64) sensors.Reading  { return sensors.Reading{Channel: damp, Value: p} }
func missing() sensors.Reading {
	return sensors.Reading{Channel: surfaceChannel, Quality: sensors.Missing}
}

func marked(x sensors.Reading, q sensors.Quality) sensors.Reading {
	x.Quality = q
	return x
}

// view is all that can be asked of a room.
type view struct {
	Rounds  []sensors.Round
	Rollups map[store.Series]map[time.Duration][]store.Rollup
	Extents []store.Extent
}

func look(t *testing.T, r store.Readings, room string) view {
	t.Helper()
	from, to := dusk.AddDate(-20, 0, 0), dusk.AddDate(20, 0, 0)
	v := view{Rounds: ask(t, r, store.Query{Room: room, From: from, To: to}), Rollups: map[store.Series]map[time.Duration][]store.Rollup{}}
	v.Extents = extents(t, r)
	for _, e := range v.Extents {
		v.Rollups[e.Series] = map[time.Duration][]store.Rollup{}
		for _, width := range store.Widths() {
			v.Rollups[e.Series][width] = rollups(t, r, e.Series, width, from, to)
		}
	}
	return v
}

func add(t *testing.T, r store.Readings, room string, rounds ...sensors.Round) {
	t.Helper()
	if err := r.Append(t.Context(), room, rounds); err != nil {
		t.Fatal(err)
	}
}

func ask(t *testing.T, r store.Readings, q store.Query) []sensors.Round {
	t.Helper()
	var rounds []sensors.Round
	err := r.Rounds(t.Context(), q, func(x sensors.Round) error {
		rounds = append(rounds, x)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return rounds
}

func rollups(t *testing.T, r store.Readings, s store.Series, width time.Duration, from, to time.Time) []store.Rollup {
	t.Helper()
	got, err := r.Rollups(t.Context(), s, width, from, to)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func extents(t *testing.T, r store.Readings) []store.Extent {
	t.Helper()
	got, err := r.Extents(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
		t.Fatalf("%s (-want +got):\n%s", what, diff)
	}
}
