package dashboards

import (
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"recoat/drying"
	"recoat/drying/air"
	"recoat/drying/plan"
	"recoat/internal/room"
	"recoat/sensors"
)

// completeHarbour is the colour coat with all that its label leaves out.
func completeHarbour(t testing.TB) drying.Product {
	t.Helper()
	p, err := quietHarbour().Complete()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// filledBook is a real journal with a shop and a bench full of work in it.
func filledBook(t testing.TB) Book {
	t.Helper()
	j := openBook(t)
	fillShop(t, j)
	fillBench(t, j)
	return bookOf(j)
}

// nightAhead is a room that is damp from midnight to six and dry by day, each of
// 200 courses a little off.
func nightAhead(t testing.TB, from time.Time) room.Courses {
	t.Helper()
	const step, steps, members = 30 * time.Minute, 240, 200
	var all [][]drying.Conditions
	for m := range members {
		off := (float64(m) + 0.5 - members/2) / members // -½ to ½
		course := make([]drying.Conditions, steps)
		for i := range course {
			hour := from.Add(time.Duration(i)*step).In(shopZone).Sub(evening.Truncate(24*time.Hour)).Hours() - 1
			damp := math.Exp(-math.Pow(math.Mod(hour+21, 24)-24+3, 2) / 8)
			rh := sensors.RelativeHumidity(55 + 38*damp + 6*off)
			c := sensors.Celsius(19.5 - 3*damp + off)
			course[i] = drying.Conditions{Air: c, Humidity: rh, Surface: max(c-1, air.DewPoint(c, rh))}
		}
		all = append(all, course)
	}
	e, err := drying.NewEnsemble(from, step, all)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func plannedRoom(t testing.TB) room.Snapshot {
	s := twoCoats(evening)
	s.Ahead = nightAhead(t, evening.Truncate(15*time.Minute))
	return s
}

func planHandler(t testing.TB, s room.Snapshot) http.Handler {
	return New(Options{House: newHouse(s), Book: filledBook(t), Location: shopZone, Now: func() time.Time { return evening }})
}

func TestPlanMovesWithItsStart(t *testing.T) {
	h := planHandler(t, plannedRoom(t))
	wantProse(t, get(h, "/plan"), "Plan", "Do not start at 21:45: wait for 07:00", "Coat 1 of 2", "Coat 2 of 2", "At handling strength")
	wantProse(t, get(h, "/plan?coats=1&at="+unix(evening.Add(4*time.Hour))), "Do not start at 01:30: wait for", "Coat 1 of 1")
	wantProse(t, get(h, "/plan?at="+unix(evening.Add(12*time.Hour+20*time.Minute))), "Start at 10:00: a good hour")
	wantProse(t, get(planHandler(t, twoCoats(evening)), "/plan"), "about a day of readings is needed")
	for _, odd := range []string{"/plan?at=x&coats=-4&room=cellar&product=f-9999&with=magic", "/plan?at=99999999999&coats=99"} {
		if w := get(h, odd); w.Code != http.StatusOK {
			t.Errorf("%s: status %d", odd, w.Code)
		}
	}
}

// What a toggle says it saves is what turning it on saves: the two pages must
// agree.
func TestAToggleKeepsItsWord(t *testing.T) {
	ask := planAsk{coats: times(completeHarbour(t), 2), start: evening.Add(20 * time.Minute), changes: map[string]bool{}}
	s, hours := plannedRoom(t), plan.UsualHours(shopZone)
	off, err := shopWords.plan(s, ask, hours)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range off.whatIfs {
		ask.changes = map[string]bool{x.key: true}
		on, err := shopWords.plan(s, ask, hours)
		if err != nil {
			t.Fatal(err)
		}
		if back := on.whatIfs[i]; !x.known || back.saved.Round(time.Second) != x.saved.Round(time.Second) || back.energy != x.energy {
			t.Errorf("%s: saves %v with %+v by the toggle, %v with %+v once it is on", x.key, x.saved, x.energy, back.saved, back.energy)
		}
		if x.key == "warm" && (x.saved <= 0 || x.energy.High <= 0) {
			t.Errorf("warmer air saves %v and takes %+v", x.saved, x.energy)
		}
	}
}

func TestSavedWords(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "makes no difference to when it is done", 7 * time.Minute: "makes no difference to when it is done",
		50 * time.Minute: "done 45 min earlier", -2 * time.Hour: "done 2 h later",
		200 * time.Minute: "done 3 h 15 min earlier", 30*time.Hour + 20*time.Minute: "done 30 h earlier",
	} {
		if got := savedWords(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

// The doors are sanded already and wait for their second colour coat; the top
// has its stain on.
func TestAPartIsPlannedFromItsSchedule(t *testing.T) {
	h := planHandler(t, plannedRoom(t))
	page := get(h, "/plan?part=p-0001.1")
	wantProse(t, page, "Linen press, doors", "Linen press, top", "Sanding takes, minutes", "the schedule names no product", "Before it:", "about 30 min of work", "At handling strength")
	if html := page.Body.String(); strings.Contains(html, `name="coats"`) || !strings.Contains(html, `<option value="p-0001.1" selected>`) {
		t.Error("the page asks for a number of coats, or has not chosen the part")
	}
	slow := get(h, "/plan?part=p-0001.1&work=240")
	wantProse(t, slow, "about 4 h of work")
	wantProse(t, get(h, "/plan?part=p-0001.1&by=2026-03-20T18:00"), "To have it at handling strength by", "start no later than", "Start then")
	wantProse(t, get(h, "/plan?coats=2&by=2026-03-11T04:00"), "it cannot be done")
	for _, odd := range []string{"/plan?part=p-9999.9", "/plan?part=p-0001.1&p3=f-9999&work=-5&by=never", "/plan?part=p-0002.1"} {
		if w := get(h, odd); w.Code != http.StatusOK {
			t.Errorf("%s: status %d", odd, w.Code)
		}
	}
}

// A part whose coat below is not dry is offered from when it is.
func TestAPartIsNotStartedBeforeTheCoatBelowIsDry(t *testing.T) {
	s := plannedRoom(t)
	for i := range s.Coats {
		s.Coats[i].ID = "c-0002"
		s.Coats[i].Estimates = []drying.Estimate{
			{Stage: drying.Sandable, Likely: evening.Add(345 * time.Minute)}, {Stage: drying.DryToRecoat, Likely: evening.Add(345 * time.Minute)},
		}
	}
	h := planHandler(t, s)
	wantProse(t, get(h, "/plan?part=p-0001.1"), "The first coat goes on at 03:30")
	wantProse(t, get(h, "/plan?part=p-0001.1&at="+unix(evening.Add(time.Hour))), "Do not start at 22:30: not ready for it before 03:25", "Start at 07:00 instead")
}

func TestPlanSaysCautions(t *testing.T) {
	html := get(planHandler(t, plannedRoom(t)), "/plan?with=warm").Body.String()
	if !strings.Contains(html, "No flame and no glowing heater near solvent vapour") {
		t.Error("a heater is proposed without a word of its danger")
	}
}

func BenchmarkPlanPage(b *testing.B) {
	h := planHandler(b, plannedRoom(b))
	for b.Loop() {
		if w := get(h, "/plan?coats=2&with=dry"); w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}

// BenchmarkPlanOfAPart is the longest plan that a person can ask for: what is left
// of a schedule, with a delivery to be met.
func BenchmarkPlanOfAPart(b *testing.B) {
	h := planHandler(b, plannedRoom(b))
	for b.Loop() {
		if w := get(h, "/plan?part=p-0001.3&with=dry&by=2026-03-16T18:00"); w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}
