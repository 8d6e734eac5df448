package drying

import (
	"math"
	"slices"
	"testing"
	"time"

	"recoat/sensors"
)

var noon = time.Date(2026, 2, 3, 12, 0, 0, 0, time.UTC)

// steady is one sample a minute of the same conditions.
func steady(c Conditions, from time.Time, lasts time.Duration) []Sample {
	var all []Sample
	for at := time.Duration(0); at < lasts; at += time.Minute {
		all = append(all, Sample{At: from.Add(at), Conditions: c})
	}
	return all
}

func acrylic() Coat { return Coat{Product: label(Waterborne, "acrylic", 2*time.Hour), Applied: noon} }

func within(t *testing.T, what string, got, want time.Time, slack time.Duration) {
	t.Helper()
	if d := got.Sub(want).Abs(); d > slack {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, slack)
	}
}

// Under constant conditions Follow says what Expect says, whether everything
// is past, half of it, or none.
func TestFollowAgreesWithExpect(t *testing.T) {
	for _, p := range everyKind() {
		c := room(21, 55)
		coat := Coat{Product: p, Applied: noon}
		for i, want := range p.Expect(c, 0) {
			if want.Expected > 3*day {
				continue
			}
			for _, share := range []float64{0.001, 0.5, 1.5} {
				now := noon.Add(scale(want.Expected, share).Round(time.Minute) + time.Minute)
				got := Follow(coat, steady(c, noon, now.Sub(noon)), now, nil)[i]
				within(t, p.Kind+" "+got.Stage.String(), got.Likely, noon.Add(want.Expected), time.Millisecond)
				if got.Reached != !got.Likely.After(now) {
					t.Errorf("%s %s: reached is %v at %v", p.Kind, got.Stage, got.Reached, now)
				}
				near(t, "pace", got.Pace, want.Pace, 1e-12)
			}
		}
	}
}

// Half the label time at one pace and half at another: ready when the two make
// one, to the second.
func TestFollowAddsUp(t *testing.T) {
	coat, warm, cold := acrylic(), room(26, 45), room(17, 60)
	pw := coat.Product.Expect(warm, 0)[DryToRecoat].Pace
	pc := coat.Product.Expect(cold, 0)[DryToRecoat].Pace
	samples := append(steady(warm, noon, 30*time.Minute), steady(cold, noon.Add(30*time.Minute), 6*time.Hour)...)
	got := Follow(coat, samples, noon.Add(6*time.Hour), nil)[DryToRecoat]
	left := 120 - 30*pw // label minutes
	within(t, "ready", got.Likely, noon.Add(30*time.Minute+time.Duration(left/pc*float64(time.Minute))), time.Second)
	if !got.Reached || got.Done != 1 || got.Low.After(got.Likely) || got.High.Before(got.Likely) {
		t.Errorf("got %+v, want it reached, between Low and High", got)
	}
}

// One reading a minute or one in ten: the same to 0.1 % where the room changes
// slowly.
func TestFollowIgnoresThePaceOfReading(t *testing.T) {
	at := func(step time.Duration) time.Duration {
		var samples []Sample
		for passed := time.Duration(0); passed < 24*time.Hour; passed += step {
			mid := (passed + step/2).Hours()
			c := room(sensors.Celsius(19+2*math.Sin(mid/4)), 50)
			samples = append(samples, Sample{noon.Add(passed), c})
		}
		return Follow(acrylic(), samples, noon.Add(24*time.Hour), nil)[Handle].Likely.Sub(noon)
	}
	few, many := at(10*time.Minute), at(time.Minute)
	near(t, "ten to one", float64(few)/float64(many), 1, 0.001)
}

// A limit that is broken stops the clock; Blocked says since when.
func TestFollowStalls(t *testing.T) {
	coat, good, damp := acrylic(), room(20, 55), room(20, 88)
	began := noon.Add(40*time.Minute + 20*time.Second)
	samples := append(steady(good, noon, 40*time.Minute), Sample{began, damp})
	samples = append(samples, steady(damp, began.Add(time.Minute), time.Hour)...)
	now := began.Add(time.Hour)
	e := Follow(coat, samples, now, nil)[DryToRecoat]
	if len(e.Blocked) == 0 || e.Pace != 0 || !e.Likely.IsZero() {
		t.Fatalf("got %+v, want it blocked, without a time", e)
	}
	for _, r := range e.Blocked {
		if !r.Since.Equal(began.Truncate(time.Minute)) {
			t.Errorf("%s: since %v, want %v", r.Code, r.Since, began.Truncate(time.Minute))
		}
	}
	pace := coat.Product.Expect(good, 0)[DryToRecoat].Pace
	near(t, "done", e.Done, began.Sub(noon).Hours()*pace/2, 1e-9)

	// The same coat where better air is expected: still blocked now, but timed.
	better := Follow(coat, samples, now, func(time.Time) (Conditions, bool) { return good, true })[DryToRecoat]
	within(t, "ready", better.Likely, now.Add(scale(2*time.Hour, (1-e.Done)/pace)), time.Second)
	if len(better.Blocked) == 0 {
		t.Error("the clock stands still now, and Blocked does not say so")
	}
}

// A gap gains nothing, is counted, and widens the interval towards earlier.
func TestFollowCountsGaps(t *testing.T) {
	coat, c := acrylic(), room(21, 55)
	whole := steady(c, noon, 5*time.Hour)
	var holed []Sample
	for _, s := range whole {
		if passed := s.At.Sub(noon); passed < 30*time.Minute || passed >= 90*time.Minute {
			holed = append(holed, s)
		}
	}
	now := noon.Add(5 * time.Hour)
	full, gap := Follow(coat, whole, now, nil)[DryToRecoat], Follow(coat, holed, now, nil)[DryToRecoat]
	missing := time.Hour - MaxGap + time.Minute // the last sample before it stands for MaxGap
	if gap.Uncovered != missing || full.Uncovered != 0 {
		t.Errorf("uncovered: got %v and %v, want %v and none", gap.Uncovered, full.Uncovered, missing)
	}
	within(t, "ready", gap.Likely, full.Likely.Add(missing), time.Millisecond)
	if !gap.Low.Equal(full.Low) {
		t.Errorf("low: got %v, want %v, as if the coat had dried on", gap.Low, full.Low)
	}
	if !gap.High.After(full.High) {
		t.Errorf("high: got %v, want later than %v", gap.High, full.High)
	}
}

// Sensors that fell silent: nothing is gained, and Blocked says since when.
func TestFollowWithoutReadings(t *testing.T) {
	coat := acrylic()
	now := noon.Add(3 * time.Hour)
	e := Follow(coat, steady(room(21, 55), noon, 10*time.Minute), now, nil)[DryToRecoat]
	silent := noon.Add(9*time.Minute + MaxGap)
	if len(e.Blocked) != 1 || e.Blocked[0].Code != "no-readings" || !e.Blocked[0].Since.Equal(silent) {
		t.Errorf("got %+v, want no readings since %v", e.Blocked, silent)
	}
	if e.Uncovered != now.Sub(silent) || e.Reached || e.Pace != 0 {
		t.Errorf("got %+v, want %v uncovered and nothing reached", e, now.Sub(silent))
	}
	none := Follow(coat, nil, now, nil)[DryToRecoat]
	if !none.Likely.IsZero() || len(none.Blocked) == 0 || none.Uncovered != 3*time.Hour {
		t.Errorf("without any reading: got %+v", none)
	}
	broken := room(21, 55)
	broken.Humidity = sensors.RelativeHumidity(math.NaN())
	bad := Follow(coat, steady(broken, noon, 3*time.Hour), now, nil)[DryToRecoat]
	if bad.Done != 0 || len(bad.Blocked) == 0 || bad.Uncovered != 3*time.Hour {
		t.Errorf("with readings that are no numbers: got %+v", bad)
	}
}

// A record kept once an hour is no record full of gaps; one with one long gap
// is.
func TestSlowRecordsAreBridged(t *testing.T) {
	var slow []Sample
	for h := range 8 {
		slow = append(slow, Sample{noon.Add(time.Duration(h) * time.Hour), room(21, 55)})
	}
	if e := Follow(acrylic(), slow, noon.Add(7*time.Hour), nil)[DryToRecoat]; e.Uncovered != 0 || !e.Reached {
		t.Errorf("one reading an hour: got %+v, want it all covered", e)
	}
	if got := standsFor(slow[:2]); got != MaxGap {
		t.Errorf("two readings an hour apart: a sample stands for %v, want %v", got, MaxGap)
	}
	sparse := []Sample{slow[0], {At: noon.Add(3 * time.Hour)}, {At: noon.Add(6 * time.Hour)}, {At: noon.Add(9 * time.Hour)}, {At: noon.Add(12 * time.Hour)}}
	if got := standsFor(sparse); got != longestGap {
		t.Errorf("one reading in three hours: a sample stands for %v, want %v", got, longestGap)
	}
}

// Readings out of order or doubled do no harm, and none from after now count.
func TestFollowIsSafe(t *testing.T) {
	c := room(21, 55)
	good := steady(c, noon, 2*time.Hour)
	doubled := append([]Sample{}, good[:60]...)
	doubled = append(doubled, good[59:]...)
	now := noon.Add(2 * time.Hour)
	want := Follow(acrylic(), good, now, nil)[DryToRecoat]
	if got := Follow(acrylic(), doubled, now, nil)[DryToRecoat]; got.Done != want.Done {
		t.Errorf("doubled: done %v, want %v", got.Done, want.Done)
	}
	mixed := append([]Sample{}, good...)
	mixed[30], mixed[90] = mixed[90], mixed[30]
	if got := Follow(acrylic(), mixed, now, nil)[DryToRecoat]; got.Done > want.Done+1e-9 {
		t.Errorf("out of order: done %v, want no more than %v", got.Done, want.Done)
	}
	later := append(append([]Sample{}, good...), steady(room(30, 30), now.Add(time.Minute), time.Hour)...)
	if got := Follow(acrylic(), later, now, nil)[DryToRecoat]; got.Done != want.Done || !got.Likely.Equal(want.Likely) {
		t.Errorf("readings to come: got %+v, want %+v", got, want)
	}
	before := Follow(acrylic(), nil, noon.Add(-time.Hour), func(time.Time) (Conditions, bool) { return c, true })[DryToRecoat]
	within(t, "a coat to come", before.Likely, noon.Add(acrylic().Product.Expect(c, 0)[DryToRecoat].Expected), time.Millisecond)
	if len(before.Blocked) != 0 || before.Done != 0 {
		t.Errorf("a coat to come: got %+v", before)
	}
}

// The projection ends: after Horizon at the latest, and at once where nothing
// can come of it.
func TestProjectionEnds(t *testing.T) {
	coat := acrylic()
	coat.Product.Stated.Times[Cured] = 600 * day
	asked := 0
	slow := func(time.Time) (Conditions, bool) { asked++; return room(21, 55), true }
	e := Follow(coat, nil, noon, slow)[Cured]
	if !e.Likely.IsZero() || len(e.Blocked) == 0 {
		t.Errorf("600 days: got %+v, want no time, and why", e)
	}
	if most := int(Horizon/(30*time.Minute)) + 100; asked > most {
		t.Errorf("the outlook was asked %d times, want at most %d", asked, most)
	}
	cold := Follow(acrylic(), nil, noon, func(time.Time) (Conditions, bool) { return room(5, 50), true })[DryToRecoat]
	if !blockedBy(cold, "air-cold") || !cold.Likely.IsZero() {
		t.Errorf("cold to come: got %+v, want it blocked by the cold", cold)
	}
}

func blockedBy(e Estimate, code string) bool {
	return slices.ContainsFunc(e.Blocked, func(r Reason) bool { return r.Code == code })
}

// What is only projected is less certain than what was measured.
func TestProjectionWidens(t *testing.T) {
	c := room(21, 55)
	early := Follow(acrylic(), steady(c, noon, 2*time.Minute), noon.Add(2*time.Minute), nil)[DryToRecoat]
	late := Follow(acrylic(), steady(c, noon, 8*time.Hour), noon.Add(8*time.Hour), nil)[DryToRecoat]
	if early.High.Sub(early.Low) <= late.High.Sub(late.Low) {
		t.Errorf("projected: %v wide, measured: %v wide", early.High.Sub(early.Low), late.High.Sub(late.Low))
	}
	within(t, "likely", early.Likely, late.Likely, time.Second)
}

// The least share at which a stage can be early lies under every width.
func TestEarliestIsEarlyEnough(t *testing.T) {
	widest := 0.0
	for _, k := range kinds() {
		l := k.law()
		for at := sensors.Celsius(5); at < 35; at++ {
			for h := sensors.RelativeHumidity(5); h < 95; h += 5 {
				m := newMoist(room(at, h), 0)
				s := l.spread(&m)
				widest = math.Max(widest, s*s+l.surfaceSpread*l.surfaceSpread)
			}
		}
	}
	widest += projectedSpread*projectedSpread + assumedStage*assumedStage + assumedFilm*assumedFilm
	if 1/width(widest) < earliest {
		t.Errorf("a stage can be early at %.3f of its time, which is looked for from %.3f on", 1/width(widest), earliest)
	}
}

func TestWindow(t *testing.T) {
	p := label(TwoPart, "epoxy", 8*time.Hour)
	coat := Coat{Product: p, Applied: noon}
	if got := Window(coat, nil, noon, nil); !got.Likely.IsZero() || len(got.Blocked) != 0 {
		t.Errorf("without a window: got %+v", got)
	}
	coat.Product.Stated.RecoatBy = 72 * time.Hour
	own := steady(room(23, 50), noon, time.Hour)
	within(t, "at the label's conditions", Window(coat, own, noon.Add(time.Hour), nil).Likely, noon.Add(72*time.Hour), time.Second)
	warm := Window(coat, steady(room(30, 40), noon, time.Hour), noon.Add(time.Hour), nil)
	if !warm.Likely.Before(noon.Add(60 * time.Hour)) {
		t.Errorf("in the warm the window closes at %v, want much earlier", warm.Likely)
	}
	// A broken limit and silence do not put a deadline off.
	damp := Window(coat, steady(room(23, 90), noon, time.Hour), noon.Add(time.Hour), nil)
	within(t, "damp", damp.Likely, noon.Add(72*time.Hour), time.Second)
	within(t, "silent", Window(coat, nil, noon.Add(time.Hour), nil).Likely, noon.Add(72*time.Hour), time.Second)
	coat.Product.Stated.RecoatBy = time.Hour
	if got := Window(coat, nil, noon, nil); len(got.Blocked) == 0 {
		t.Errorf("a window shorter than recoat: got %+v, want a refusal", got)
	}
}

func TestFollowRefusesAProduct(t *testing.T) {
	all := Follow(Coat{Applied: noon}, nil, noon, nil)
	if len(all) != StageCount || len(all[DryToRecoat].Blocked) != 1 || all[DryToRecoat].Blocked[0].Code != "product" {
		t.Errorf("got %+v, want every stage refused", all)
	}
}

// A month of readings once a minute.
func BenchmarkFollowMonth(b *testing.B) {
	coat := acrylic()
	coat.Product.Stated.Times[Cured] = 60 * day
	samples := steady(room(17, 55), noon, 30*day)
	for i := range samples {
		samples[i].Air += sensors.Celsius(2 * math.Sin(float64(i)/230))
		samples[i].Surface = samples[i].Air - 1
	}
	for b.Loop() {
		Follow(coat, samples, noon.Add(30*day), nil)
	}
}
