package storetest

import (
	"slices"
	"testing"
	"time"

	"recoat/internal/store"
	"recoat/sensors"
)

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

	unsure := round("bench", "b1", 2, at(time.Second), air(21))
	unsure.ClockSet = false
	add(t, r, "attic", unsure)
	unsure.ClockSet = true
	add(t, r, "attic", unsure)
	same(t, "the clock proved right", ask(t, r, all), []sensors.Round{corrected, unsure})
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

func checkRoomsApart(t *testing.T, r store.Readings) {
	attic, cellar := round("bench", "b1", 1, at(0), air(20)), round("bench", "b1", 1, at(0), air(8))
	add(t, r, "attic", attic)
	add(t, r, "cellar", cellar)
	for room, want := range map[string]sensors.Round{"attic": attic, "cellar": cellar} {
		same(t, room, ask(t, r, store.Query{Room: room, From: at(0), To: at(time.Hour)}), []sensors.Round{want})
	}
}
