package alert

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
)

var node1 = OfNode{Room: "back-room", Title: "Back room", Node: "node-1"}

func TestClockNotSet(t *testing.T) {
	check(t, "set", ClockNotSet(ClockFacts{node1, True}), judged{False, Warning, "Clock of node node-1 is set: Back room", ""})
	check(t, "not set", ClockNotSet(ClockFacts{node1, False}), judged{True, Warning, "Clock of node node-1 is not set: Back room",
		"Its readings are kept, and dated once the clock is set. Check its network."})
	check(t, "unknown", ClockNotSet(ClockFacts{node1, Unknown}), judged{Unknown, Warning, "", ""})
	if !mutes(SensorSilent(SilentFacts{Room: "back-room", Node: "node-1"}).Key, ClockNotSet(ClockFacts{node1, False}).Key) {
		t.Error("a silent node does not mute its clock")
	}
}

func TestSupplyLow(t *testing.T) {
	of := func(v float64) Finding { return SupplyLow(SupplyFacts{OfNode: node1, Volts: v, Least: 4.7}) }
	check(t, "low", of(4.7), judged{True, Warning, "Low supply, check power of node node-1: Back room", "4.70 V; at least 4.70 V is needed. Readings may be wrong or stop."})
	alarm := func(v float64, low Tri) Finding {
		return SupplyLow(SupplyFacts{OfNode: node1, Volts: v, Least: 4.7, Alarm: low})
	}
	check(t, "alarm", alarm(math.NaN(), True), judged{True, Warning, "Low supply, check power of node node-1: Back room",
		"The machine says that its supply is too low. Use a stronger one and a short, thick cable: readings may be wrong or stop."})
	check(t, "no alarm", alarm(math.NaN(), False), judged{False, Warning, "Supply of node node-1 is back: Back room", ""})
	if f := alarm(math.NaN(), Unknown); f.Condition != Unknown {
		t.Errorf("neither volts nor a word: %v", f.Condition)
	}
	if f := alarm(4.9, True); f.Condition != False {
		t.Errorf("enough volts outweigh an alarm: %v", f.Condition)
	}
	check(t, "enough", of(4.9), judged{False, Warning, "Supply of node node-1 is back: Back room", ""})
	if of(4.8).Condition != Between || of(math.NaN()).Condition != Unknown {
		t.Error("between or unknown")
	}
	if !mutes(SensorSilent(SilentFacts{Room: "back-room", Node: "node-1"}).Key, of(4).Key) {
		t.Error("a silent node does not mute its supply")
	}
}

func TestNamesake(t *testing.T) {
	check(t, "two", Namesake(NamesakeFacts{node1, True}), judged{True, Warning, "Two machines are named node-1. Rename one: Back room",
		"Both send readings as this node, and push each other off the broker. A copied card is the usual cause: give one of them another node name in its configuration."})
	check(t, "one", Namesake(NamesakeFacts{node1, False}), judged{False, Warning, "One machine is named node-1 again: Back room", ""})
	check(t, "unknown", Namesake(NamesakeFacts{node1, Unknown}), judged{Unknown, Warning, "", ""})
}

func TestStoreFailing(t *testing.T) {
	facts := StoreFacts{Room: "back-room", Failing: true, Since: clockAt(5, 2, 10), Now: clockAt(5, 3, 0), Why: "disk I/O error"}
	check(t, "fails", StoreFailing(facts), judged{True, Warning, "Readings are not stored. Check the hub's disk.",
		"Since Wed 02:10: disk I/O error.\nThe nodes keep what was not stored and send it again."})
	facts.Failing = false
	check(t, "works", StoreFailing(facts), judged{False, Warning, "Readings are stored again", ""})
}

func TestDiskNearlyFull(t *testing.T) {
	of := func(free uint64) Finding { return DiskNearlyFull(DiskFacts{"back-room", free, 32e9}) }
	const tail = " GB of 32.0 GB are free. Once it is full no reading is stored."
	check(t, "nearly", of(1.6e9), judged{True, Warning, "Disk nearly full, 5 % free. Make room.", "1.6" + tail})
	check(t, "full", of(0), judged{True, Critical, "Disk nearly full, 0 % free. Make room.", "0.0" + tail})
	check(t, "between", of(2e9), judged{Between, Warning, "Disk nearly full, 6 % free. Make room.", "2.0" + tail})
	check(t, "room", of(3.2e9), judged{False, Warning, "Room on the disk again, 10 % free", ""})
	check(t, "unknown", DiskNearlyFull(DiskFacts{}), judged{Unknown, Warning, "", ""})
}

func TestChannelFailing(t *testing.T) {
	o := newOutbox(t)
	for _, id := range []string{"a", "b"} {
		raise(t, o, id, Info, "phone", "mail")
	}
	for i, m := range messages(t, o) {
		if m.Channel == "phone" {
			must(t, o.Begin(t.Context(), m.ID, dusk))
			must(t, o.Retry(t.Context(), m.ID, dusk.Add(time.Duration(i)), minute, "no route to https://push.example.net/secret"))
		}
	}
	troubles, err := o.Troubles(t.Context())
	must(t, err)
	want := []Trouble{{Channel: "phone", Since: dusk, Why: "no route to https://push.example.net/secret"}}
	if diff := cmp.Diff(want, troubles); diff != "" {
		t.Fatal(diff)
	}
	facts := ChannelFacts{Room: "back-room", Channel: troubles[0].Channel, Failing: true, Since: troubles[0].Since, Now: dusk, Why: troubles[0].Why}
	check(t, "fails", ChannelFailing(facts), judged{True, Warning, "Alerts do not get through: phone", "Since Tue 21:40: no route to ….\nWhat was not sent is tried again."})
	facts.Failing = false
	check(t, "works", ChannelFailing(facts), judged{False, Warning, "Alerts get through again: phone", ""})
}

func TestSelfTest(t *testing.T) {
	due := clockAt(9, 18, 0) // a Sunday
	facts := SelfTestFacts{Room: "back-room", Due: due, Now: due.Add(time.Hour), Heard: 2, Nodes: 3, Drying: 1}
	check(t, "due", SelfTest(facts), judged{True, Info, "Weekly test: alerts get through",
		"2 of 3 nodes are heard, one coat is drying.\nThe next test is due Sun 16 Mar 18:00: if none comes, look at the hub."})
	for _, late := range []time.Duration{-minute, 13 * time.Hour} {
		facts.Now = due.Add(late)
		check(t, late.String(), SelfTest(facts), judged{})
	}
	e := newEngine()
	told := 0
	for h := range 24 * 28 {
		now := clockAt(1, 0, 0).Add(time.Duration(h) * time.Hour)
		f := SelfTest(SelfTestFacts{Room: "back-room", Due: LastWeekly(now, time.Sunday, 18*time.Hour, time.UTC), Now: now})
		told += len(e.Step(Instant{Wall: now, Mono: time.Duration(h) * time.Hour}, []Finding{f}))
	}
	if told != 4 {
		t.Errorf("%d tests in four weeks", told)
	}
}

// Summer time begins on Sunday 30 March 2031 at 01:00 UTC (Directive
// 2000/84/EC).
func TestLastWeekly(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	at := func(d, h int) time.Time { return time.Date(2031, 3, d, h, 0, 0, 0, time.UTC) }
	for _, c := range []struct{ now, want time.Time }{
		{at(23, 17), at(23, 17)}, {at(23, 16), at(16, 17)}, {at(29, 23), at(23, 17)},
		{at(30, 16), at(30, 16)}, {at(30, 15), at(23, 17)}, {at(31, 0), at(30, 16)},
	} {
		if got := LastWeekly(c.now, time.Sunday, 18*time.Hour, berlin); !got.Equal(c.want) {
			t.Errorf("at %v: %v, want %v", c.now, got.UTC(), c.want)
		}
	}
}

// Whatever things are called, every rule's title fits a lock screen.
func TestTitlesOfEveryRuleFit(t *testing.T) {
	now := clockAt(4, 23, 0)
	for _, name := range []string{"", "x", "Grandmother's linen press from the attic of the old mill house", strings.Repeat("ü", 500), "a\r\nSubject: b\x00", "\xff\xfe"} {
		coat := OfCoat{Film: Film{name, name}}
		node := OfNode{Title: name, Node: name}
		open := []Film{{name, name}, press}
		for _, f := range []Finding{
			RecoatBy(RecoatByFacts{OfCoat: coat, By: now, Now: now}), RecoatBy(RecoatByFacts{OfCoat: coat, By: now.Add(time.Hour), Now: now}),
			FilmCold(FilmColdFacts{OfCoat: coat}), FilmCold(FilmColdFacts{OfCoat: coat, Surface: 20}),
			Condensation(CondensationFacts{OfCoat: coat}), Condensation(CondensationFacts{OfCoat: coat, Surface: 20}),
			Blush(BlushFacts{OfCoat: coat}), Blush(BlushFacts{OfCoat: coat, Margin: 20}),
			Stalled(StalledFacts{OfCoat: coat}), Stalled(StalledFacts{OfCoat: coat, Pace: 1}),
			Slipped(SlippedFacts{OfCoat: coat, Applied: now, Promised: now.Add(time.Hour), Likely: now.Add(9 * time.Hour), Now: now}),
			WillBeUnfit(ForecastFacts{Title: name, Open: open, Chance: 1, Closed: now, Reason: damp}), WillBeUnfit(ForecastFacts{Title: name, Open: open}),
			FitAgain(FitAgainFacts{Title: name, Verdict: drying.Verdict{State: drying.Fit}}),
			ClockNotSet(ClockFacts{node, True}), ClockNotSet(ClockFacts{node, False}),
			SupplyLow(SupplyFacts{OfNode: node, Volts: 1, Least: 5}), SupplyLow(SupplyFacts{OfNode: node, Volts: 9, Least: 5}),
			Namesake(NamesakeFacts{node, True}), Namesake(NamesakeFacts{node, False}),
			ChannelFailing(ChannelFacts{Channel: name, Failing: true}), ChannelFailing(ChannelFacts{Channel: name}),
			StoreFailing(StoreFacts{Failing: true}), StoreFailing(StoreFacts{}),
			DiskNearlyFull(DiskFacts{Free: 0, Size: 1}), DiskNearlyFull(DiskFacts{Free: 1, Size: 1}), SelfTest(SelfTestFacts{}),
		} {
			if n := utf8.RuneCountInString(f.Title); n == 0 || n > maxTitle || strings.ContainsAny(f.Title, "\r\n\x00") || !utf8.ValidString(f.Title) {
				t.Errorf("%s: %d characters: %q", f.Key.Rule, n, f.Title)
			}
		}
	}
}

func TestStandingOfAnOutboxThatCannotBeRead(t *testing.T) {
	o := newOutbox(t)
	must(t, o.Close())
	_, errStanding := o.Standing(t.Context())
	_, errTroubles := o.Troubles(t.Context())
	_, errCollapse := o.Collapse(t.Context(), Message{}, dusk)
	if err := errors.Join(errStanding, errTroubles, errCollapse); errStanding == nil || errTroubles == nil || errCollapse == nil {
		t.Errorf("no error: %v", err)
	}
}
