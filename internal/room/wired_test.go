package room

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"recoat/drying"
	"recoat/internal/alert"
	"recoat/sensors"
	"recoat/sensors/calibration"
)

// first lists the rules that were told of, each once, in order.
func (w *workshop) first() []string {
	var rules []string
	for _, told := range w.told {
		if rule, _, _ := strings.Cut(told, " "); !slices.Contains(rules, rule) {
			rules = append(rules, rule)
		}
	}
	return rules
}

func jobWith(t *testing.T, probe string, change func(p *drying.Product)) Job {
	t.Helper()
	j := job(t, "c-0001", 0, probe)
	change(&j.Product)
	return j
}

// Each rule is reached from what the nodes say, and from nothing else: the same
// hour without the trouble tells nothing.
func TestEveryRuleIsReachedFromTheRoom(t *testing.T) {
	type minute = func(d time.Duration) []sensors.Reading
	same := func(readings ...sensors.Reading) minute {
		return func(time.Duration) []sensors.Reading { return readings }
	}
	sound := same(warm(20), damp(50), surfaceAt("p1", 19.5))
	for rule, c := range map[string]struct {
		job     Job
		trouble minute
	}{
		"condensation": {job(t, "c-0001", 0, "p1"), same(warm(20), damp(70), surfaceAt("p1", 15))},
		"film-cold": {jobWith(t, "p1", func(p *drying.Product) {
			p.Limits.HasFilmForms, p.Limits.FilmFormsAbove, p.Limits.DewMarginMin = true, 8, 0.1
		}), same(warm(12), damp(40), surfaceAt("p1", 7))},
		"blush": {jobWith(t, "p1", func(p *drying.Product) { p.Limits.AirMarginMin = 5 }), same(warm(20), damp(78), surfaceAt("p1", 20.5))},
		"unfit": {job(t, "c-0001", 0, ""), same(warm(20), damp(95))},
		"doubt": {job(t, "c-0001", 0, ""), same(warm(20), damp(50), as(sensors.Suspect, surfaceAt("p1", 80)))},
		"check": {job(t, "c-0001", 0, ""), same(warm(20), damp(50), as(sensors.Uncalibrated, surfaceAt("p1", 19)))},
		"supply": {job(t, "c-0001", 0, ""), func(d time.Duration) []sensors.Reading {
			volts := 5.1
			if d > 10*time.Minute {
				volts = 4.5
			}
			return []sensors.Reading{warm(20), damp(50), reading(sensors.SupplyVoltage, "", volts)}
		}},
	} {
		calm, troubled := newRoom(), newRoom()
		for w, says := range map[*workshop]minute{calm: sound, troubled: c.trouble} {
			w.follow(c.job)
			for d := time.Duration(0); d < 80*time.Minute; d += time.Minute {
				w.hear(d, ours("bench", d, says(d)...))
			}
		}
		if len(calm.told) != 0 {
			t.Errorf("%s: without the trouble it is told: %v", rule, calm.told)
		}
		if got := troubled.first(); len(got) == 0 || got[0] != rule {
			t.Errorf("%s: told %v", rule, troubled.told)
		}
	}
}

// A check that the journal holds falls due in the middle of a night: it is told
// of once, in its own words.
func TestACheckThatFallsDueIsToldOf(t *testing.T) {
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	var book calibration.Book
	book.Replace(map[string][]calibration.Calibration{"back-room": {{
		Node: "bench", Channel: rh, From: evening.AddDate(-1, 0, 0), Gain: 1, Sigma: 1, Method: calibration.SaltOne, Due: evening.Add(time.Hour),
	}}})
	w := recorded()
	w.cfg.Book = &book
	w.minutely(0, 50*time.Minute, warm(20), damp(50))
	if len(w.told) > 0 {
		t.Errorf("before it is due: %v", w.told)
	}
	w.minutely(50*time.Minute, 4*time.Hour, warm(20), damp(50))
	if diff := cmp.Diff([]string{"check bench/relative-humidity first"}, w.told); diff != "" {
		t.Error(diff)
	}
}

// A probe of one's own says what spoils the coat; that the room is too damp as
// well is not told on top of it.
func TestOneTroubleIsOneMessage(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, "p1"), job(t, "c-0002", 0, ""))
	w.minutely(0, 90*time.Minute, warm(20), damp(95), surfaceAt("p1", 19))
	if diff := cmp.Diff([]string{"condensation c-0001 first"}, w.told); diff != "" {
		t.Error(diff)
	}
}

func TestAClockThatIsNotSetIsToldOf(t *testing.T) {
	w := newRoom()
	for d := time.Duration(0); d < 20*time.Minute; d += time.Minute {
		r := ours("bench", d, warm(20), damp(50))
		r.ClockSet = false
		w.hear(d, r)
	}
	if diff := cmp.Diff([]string{"clock bench first"}, w.told); diff != "" {
		t.Error(diff)
	}
}

// RecoatBy is for a coat that another one is to follow: nobody is woken over a
// last coat.
func TestTheRecoatWindowCountsWhereAnotherCoatIsDue(t *testing.T) {
	for _, due := range []bool{false, true} {
		w := newRoom()
		j := job(t, "c-0001", 0, "")
		j.Due, j.Product.Stated.RecoatBy = due, 5*time.Hour
		w.follow(j)
		w.minutely(0, 2*time.Hour, warm(23), damp(50))
		if got := len(w.heard("recoat-by")) > 0; got != due {
			t.Errorf("another coat due: %v, told: %v", due, w.told)
		}
	}
}

func TestAWishIsGrantedOnceAndNothingElseIs(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	w.do(Wished{[]alert.Wish{
		{ID: "w1", Room: "back-room", Coat: "c-0001", Stage: "dry-to-recoat", Ahead: time.Hour},
		{ID: "w2", Room: "back-room", Coat: "c-0001", Stage: "dry-to-recoat"},
		{ID: "w3", Room: "back-room"},
	}})
	w.minutely(0, 4*time.Hour, warm(23), damp(50))
	want := []string{"fit-again w3 first", "ahead c-0001/dry-to-recoat/w1 first", "ready c-0001/dry-to-recoat first"}
	if diff := cmp.Diff(want, w.told); diff != "" {
		t.Error(diff)
	}
	var granted []string
	for _, tr := range w.all {
		if tr.Wish != "" && tr.Cause == alert.First {
			granted = append(granted, tr.Wish)
		}
	}
	if diff := cmp.Diff([]string{"w3", "w1", "w2"}, granted); diff != "" {
		t.Error(diff)
	}
}

func TestAColdPieceIsToldOfUntilItIsAsWarmAsTheRoom(t *testing.T) {
	w := newRoom()
	w.do(BareChanged{[]Bare{{ID: "p-0001.1", Piece: "Hall table", Part: "top", Probe: "p1"}}})
	for d := time.Duration(0); d < 6*time.Hour; d += time.Minute {
		w.hear(d, ours("bench", d, warm(20), damp(40), surfaceAt("p1", min(8+d.Hours()*3, 19.5))))
	}
	if diff := cmp.Diff([]string{"settle p-0001.1 first", "settle p-0001.1 cleared"}, w.told); diff != "" {
		t.Error(diff)
	}
}

// Two humidity sensors that differ by their tolerance are no news; one that
// creeps away from the other is.
func TestADriftingSensorIsToldOf(t *testing.T) {
	drift := func(perDay float64) *workshop {
		w := newRoom()
		for d := time.Duration(0); d < 72*time.Hour; d += 4 * time.Minute {
			second := reading(sensors.AirHumidity, "b", 52+perDay*d.Hours()/24)
			w.hear(d, ours("bench", d, warm(20), damp(50), reading(sensors.AirTemperature, "b", 20.2), second))
		}
		return w
	}
	if w := drift(0); len(w.told) != 0 {
		t.Errorf("sensors that agree: %v", w.told)
	}
	if diff := cmp.Diff([]string{"drift bench/relative-humidity:b first"}, drift(2).told); diff != "" {
		t.Error(diff)
	}
}

// A sensor that dies while the room is unfit leaves that alert standing, and
// adds one of its own.
func TestADeadSensorClearsNothing(t *testing.T) {
	w := newRoom()
	w.follow(job(t, "c-0001", 0, ""))
	w.minutely(0, 15*time.Minute, warm(20), damp(95))
	w.minutely(15*time.Minute, time.Hour, as(sensors.Missing, warm(0)), as(sensors.Missing, damp(0)))
	want := []string{"unfit  first", "mute bench/air-temperature first", "mute bench/relative-humidity first"}
	if diff := cmp.Diff(want, w.told); diff != "" {
		t.Error(diff)
	}
	if n := len(w.Snapshot().Alerts); n != 3 {
		t.Errorf("%d alerts stand, want 3", n)
	}
}

func TestFahrenheitIsToldWhereItIsSet(t *testing.T) {
	w := newRoom()
	w.cfg.Fahrenheit = true
	w.follow(job(t, "c-0001", 0, "p1"))
	w.minutely(0, 20*time.Minute, warm(20), damp(70), surfaceAt("p1", 15))
	body := w.Snapshot().Alerts[0].Body
	if !strings.Contains(body, "Surface 59.0 °F") || strings.Contains(body, "°C") || strings.Contains(body, " K") {
		t.Errorf("%q", body)
	}
}
