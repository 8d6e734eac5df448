// Package storetest holds every store of readings to the same behaviour.
package storetest

import (
	"context"
	"errors"
	"math"
	"slices"
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

func checkCanonical(t *testing.T, r store.Readings) {
	zone := time.FixedZone("shop", 5400)
	sent := sensors.Round{
		Node: "bench", Boot: "b1", Seq: 7, Time: at(1234567 * time.Microsecond).In(zone), Uptime: 3*time.Hour + 999*time.Microsecond,
		Readings: []sensors.Reading{marked(air(99), sensors.Missing), rh(45.678), {Channel: surfaceChannel, Value: -1.2345, Quality: sensors.Held}},
	}
	before := slices.Clone(sent.Readings)
	add(t, r, "attic", sent)
	same(t, "the caller's own readings", sent.Readings, before)
	want := sent
	want.Time, want.Uptime = at(1234*time.Millisecond), 3*time.Hour
	want.Readings = []sensors.Reading{
		marked(air(0), sensors.Missing), rh(45.68), {Channel: surfaceChannel, Value: -1.235, Quality: sensors.Held},
	}
	same(t, "read back", ask(t, r, store.Query{Room: "attic", From: at(0), To: at(time.Hour)}), []sensors.Round{want})
}

func checkIdempotence(t *testing.T, r store.Readings) {
	rounds := []sensors.Round{round("bench", "b1", 1, at(0), air(20), rh(50)), round("door", "", 0, at(time.Second), air(18))}
	add(t, r, "attic", rounds...)
	once := look(t, r, "attic")
	if len(once.Rounds) != 2 {
		t.Fatalf("%d rounds kept of 2", len(once.Rounds))
	}
	add(t, r, "attic", rounds...)
	add(t, r, "attic", append(rounds, rounds...)...)
	same(t, "after four deliveries", look(t, r, "attic"), once)
	add(t, r, "attic")
	same(t, "after an empty delivery", look(t, r, "attic"), once)
}

func checkReplacement(t *testing.T, r store.Readings) {
	all := store.Query{Room: "attic", From: at(-time.Hour), To: at(time.Hour)}
	held := round("bench", "b1", 1, at(0), air(20), rh(50))
	add(t, r, "attic", held)
	for name, change := range map[string]func(*sensors.Round){
		"time":    func(x *sensors.Round) { x.Time = at(-30 * time.Minute) },
		"value":   func(x *sensors.Round) { x.Readings = []sensors.Reading{air(20.001), rh(50)} },
		"quality": func(x *sensors.Round) { x.Readings = []sensors.Reading{air(20), marked(rh(50), sensors.Suspect)} },
		"channel": func(x *sensors.Round) { x.Readings = []sensors.Reading{missing()} },
		"uptime":  func(x *sensors.Round) { x.Uptime = time.Second },
	} {
		came := held
		change(&came)
		add(t, r, "attic", came)
		same(t, name, ask(t, r, all), []sensors.Round{came})
		add(t, r, "attic", held, came, held)
		same(t, name+" and back", ask(t, r, all), []sensors.Round{held})
	}
}

func checkUnsetClockNeverReplaces(t *testing.T, r store.Readings) {
	corrected := round("bench", "b1", 1, at(0), air(20))
	early := corrected
	early.Time, early.ClockSet = at(-40*time.Hour), false
	all := store.Query{Room: "attic", From: at(-50 * time.Hour), To: at(time.Hour)}
	add(t, r, "attic", early)
	same(t, "before the clock was set", ask(t, r, all), []sensors.Round{early})
	add(t, r, "attic", corrected)
	add(t, r, "attic", early)
	same(t, "after an old copy came late", ask(t, r, all), []sensors.Round{corrected})
}

func checkForeign(t *testing.T, r store.Readings) {
	add(t, r, "attic", round("plug", "", 0, at(0), rh(50)), round("plug", "", 0, at(0), air(20)))
	add(t, r, "attic", round("plug", "", 0, at(0), rh(51), missing()), round("other", "", 0, at(0), air(9)))
	add(t, r, "attic", round("plug", "", 0, at(time.Millisecond), air(21)))
	unnumbered := round("plug", "", 0, at(time.Millisecond), rh(40))
	unnumbered.Seq = 0
	add(t, r, "attic", unnumbered)
	same(t, "merged by node and instant", ask(t, r, store.Query{Room: "attic", From: at(0), To: at(time.Hour)}), []sensors.Round{
		round("other", "", 0, at(0), air(9)),
		round("plug", "", 0, at(0), air(20), rh(51), missing()),
		round("plug", "", 0, at(time.Millisecond), air(21), rh(40)),
	})
	same(t, "counted once", rollups(t, r, store.Series{Room: "attic", Node: "plug", Channel: damp}, time.Hour, at(0), at(time.Hour)),
		[]store.Rollup{{Start: at(0), Good: 2, Min: 40, Max: 51, Sum: 91}})
}

func checkOrder(t *testing.T, r store.Readings) {
	want := []sensors.Round{
		round("bench", "b2", 9, at(-time.Minute), air(1)),
		round("bench", "b1", 1, at(0), air(2)),
		round("bench", "b1", 2, at(0), air(3)),
		round("bench", "b2", 1, at(0), air(4)),
		round("door", "a0", 1, at(0), air(5)),
		round("bench", "b1", 700, at(time.Second), air(6)),
		round("bench", "b1", 3, at(time.Minute), air(7)),
	}
	for _, i := range []int{3, 6, 0, 5, 1, 4, 2} {
		add(t, r, "attic", want[i])
	}
	all := store.Query{Room: "attic", From: at(-time.Hour), To: at(time.Hour)}
	same(t, "every node", ask(t, r, all), want)
	all.Node = "bench"
	same(t, "one node", ask(t, r, all), slices.DeleteFunc(slices.Clone(want), func(x sensors.Round) bool { return x.Node != "bench" }))
}

func checkBounds(t *testing.T, r store.Readings) {
	var want []sensors.Round
	for i := range 5 {
		want = append(want, round("bench", "b1", uint64(i+1), at(time.Duration(i)*time.Millisecond), air(20)))
	}
	add(t, r, "attic", want...)
	for name, c := range map[string]struct {
		from, to    time.Duration
		first, last int
	}{
		"half open":            {time.Millisecond, 3 * time.Millisecond, 1, 3},
		"between milliseconds": {time.Millisecond + 1, 3*time.Millisecond + 1, 2, 4},
		"one instant":          {2 * time.Millisecond, 2*time.Millisecond + 1, 2, 3},
		"empty":                {2 * time.Millisecond, 2 * time.Millisecond, 0, 0},
		"backwards":            {4 * time.Millisecond, 0, 0, 0},
	} {
		got := ask(t, r, store.Query{Room: "attic", Node: "bench", From: at(c.from), To: at(c.to)})
		same(t, name, got, want[c.first:c.last])
	}
	same(t, "another room", ask(t, r, store.Query{Room: "cellar", From: at(0), To: at(time.Hour)}), []sensors.Round(nil))
}

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

func checkRefusals(t *testing.T, r store.Readings) {
	fine := round("bench", "b1", 1, at(0), air(20))
	for name, spoil := range map[string]func(*sensors.Round){
		"no node":          func(x *sensors.Round) { x.Node = "" },
		"control in boot":  func(x *sensors.Round) { x.Boot = "b\x00" },
		"no seq":           func(x *sensors.Round) { x.Seq = 0 },
		"huge seq":         func(x *sensors.Round) { x.Seq = math.MaxUint64 },
		"no time":          func(x *sensors.Round) { x.Time = time.Time{} },
		"far future":       func(x *sensors.Round) { x.Time = dusk.AddDate(100, 0, 0) },
		"negative uptime":  func(x *sensors.Round) { x.Uptime = -1 },
		"not a number":     func(x *sensors.Round) { x.Readings[0].Value = math.NaN() },
		"infinite":         func(x *sensors.Round) { x.Readings[0].Value = math.Inf(-1) },
		"beyond the steps": func(x *sensors.Round) { x.Readings[0].Value = 1e12 },
		"doubled channel":  func(x *sensors.Round) { x.Readings = []sensors.Reading{air(1), rh(2), air(1)} },
		"unknown quality":  func(x *sensors.Round) { x.Readings[0].Quality = sensors.Missing + 1 },
		"unknown quantity": func(x *sensors.Round) { x.Readings[0].Channel.Quantity = 200 },
		"spaced probe":     func(x *sensors.Round) { x.Readings[0].Channel.Probe = "a b" },
	} {
		bad := fine
		bad.Readings = slices.Clone(fine.Readings)
		spoil(&bad)
		if err := r.Append(t.Context(), "attic", []sensors.Round{fine, bad}); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := r.Append(t.Context(), "", []sensors.Round{fine}); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("no room: %v", err)
	}
	same(t, "what refused deliveries left", look(t, r, "attic"), view{})
	add(t, r, "attic", fine)
}

func checkCancellation(t *testing.T, r store.Readings) {
	ctx, cancel := context.WithCancel(t.Context())
	for i := range 3 {
		add(t, r, "attic", round("bench", "b1", uint64(i+1), at(time.Duration(i)), air(20)))
	}
	calls := 0
	err := r.Rounds(ctx, store.Query{Room: "attic", From: at(0), To: at(time.Hour)}, func(sensors.Round) error {
		calls++
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) || calls != 1 {
		t.Errorf("rounds: %d calls, %v", calls, err)
	}
	before := look(t, r, "attic")
	if err := r.Append(ctx, "attic", []sensors.Round{round("bench", "b1", 9, at(0), air(20))}); !errors.Is(err, context.Canceled) {
		t.Errorf("append: %v", err)
	}
	same(t, "after a cancelled append", look(t, r, "attic"), before)
	if _, err := r.Rollups(ctx, before.Extents[0].Series, time.Hour, at(0), at(time.Hour)); !errors.Is(err, context.Canceled) {
		t.Errorf("rollups: %v", err)
	}
	if _, err := r.Extents(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("extents: %v", err)
	}
}

func checkCallback(t *testing.T, r store.Readings) {
	add(t, r, "attic", round("bench", "b1", 1, at(0), air(20)), round("bench", "b1", 2, at(1), air(20)))
	enough := errors.New("enough")
	calls := 0
	err := r.Rounds(t.Context(), store.Query{Room: "attic", From: at(0), To: at(time.Hour)}, func(x sensors.Round) error {
		calls++
		x.Readings[0].Value = 99
		// A reader may write: what it adds is not in what it is reading.
		add(t, r, "attic", round("bench", "b1", 3, at(2), air(20)))
		return enough
	})
	if err != enough || calls != 1 {
		t.Errorf("%d calls, %v", calls, err)
	}
	got := ask(t, r, store.Query{Room: "attic", From: at(0), To: at(time.Hour)})
	if len(got) != 3 || got[0].Readings[0].Value != 20 {
		t.Errorf("afterwards: %v", got)
	}
}

func checkRoomsApart(t *testing.T, r store.Readings) {
	attic, cellar := round("bench", "b1", 1, at(0), air(20)), round("bench", "b1", 1, at(0), air(8))
	add(t, r, "attic", attic)
	add(t, r, "cellar", cellar)
	for room, want := range map[string]sensors.Round{"attic": attic, "cellar": cellar} {
		same(t, room, ask(t, r, store.Query{Room: room, From: at(0), To: at(time.Hour)}), []sensors.Round{want})
	}
}
