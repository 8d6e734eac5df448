package plan

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
	_ "time/tzdata" // zones for the tests of working hours

	"recoat/drying"
	"recoat/sensors"
)

var _ Ensemble = (*drying.Ensemble)(nil)

// noon is a Wednesday in October.
var noon = time.Date(2026, 10, 14, 12, 0, 0, 0, time.UTC)

func colour() drying.Product {
	p := drying.Product{Name: "Millrace colour", Family: drying.Waterborne, Kind: "acrylic"}
	p.Stated.Air, p.Stated.Humidity, p.Stated.Film = 23, 50, 100
	p.Stated.Times[drying.TackFree] = time.Hour
	p.Stated.Times[drying.DryToRecoat] = 2 * time.Hour
	p.Stated.Times[drying.Sandable] = 3 * time.Hour
	p.Stated.Times[drying.Handle] = 12 * time.Hour
	p.Limits = drying.Limits{AirMin: 10, AirMax: 40, HumidityMax: 85, DewMarginMin: 1, HasFilmForms: true, FilmFormsAbove: 5}
	return p
}

func oil() drying.Product {
	p := drying.Product{Name: "Osier oil", Family: drying.Oxidising, Kind: "oil"}
	p.Stated.Air, p.Stated.Humidity = 20, 50
	p.Stated.Times[drying.DryToRecoat] = 24 * time.Hour
	return p
}

func coats(products ...drying.Product) []Coat {
	all := make([]Coat, len(products))
	for i, p := range products {
		all[i] = Coat{Product: p, Waits: []drying.Stage{drying.DryToRecoat}}
	}
	return all
}

// allDay is for tests in which working hours do not matter.
func allDay() Hours { return Hours{To: 24 * time.Hour, Location: time.UTC} }

func planner(t testing.TB, s Setup) *Planner {
	t.Helper()
	if s.Hours.Location == nil {
		s.Hours = allDay()
	}
	if s.Finish == 0 {
		s.Finish = drying.Handle
	}
	p, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// courses makes an ensemble of 48 hours in half-hour steps from noon.
func courses(t testing.TB, members int, at func(member int, since time.Duration) drying.Conditions) *drying.Ensemble {
	t.Helper()
	const step = 30 * time.Minute
	all := make([][]drying.Conditions, members)
	for m := range all {
		for k := range 96 {
			all[m] = append(all[m], at(m, time.Duration(k)*step))
		}
	}
	e, err := drying.NewEnsemble(noon, step, all)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func room(air sensors.Celsius, rh sensors.RelativeHumidity) drying.Conditions {
	return drying.Conditions{Air: air, Humidity: rh, Surface: air, SurfaceMeasured: true}
}

// weather is a room that swings by day and wanders by member.
func weather(t testing.TB, members int, air, rh float64) *drying.Ensemble {
	t.Helper()
	noise := rand.New(rand.NewPCG(7, uint64(members)))
	offset := make([]float64, members)
	for m := range offset {
		offset[m] = noise.NormFloat64()
	}
	return courses(t, members, func(m int, since time.Duration) drying.Conditions {
		day := math.Cos(2 * math.Pi * since.Hours() / 24)
		grows := math.Sqrt(since.Hours() / 12)
		return room(sensors.Celsius(air+3*day+1.5*grows*offset[m]), sensors.RelativeHumidity(min(max(rh-8*day+4*grows*offset[(m+1)%members], 5), 99)))
	})
}

func near(t *testing.T, what string, got, want time.Time, within time.Duration) {
	t.Helper()
	if d := got.Sub(want); d.Abs() > within {
		t.Errorf("%s is %v, want %v (off by %v)", what, got, want, d)
	}
}

// In a room that does not change, a chain of one coat is what Follow says of
// the same room once the readings are in.
func TestAConstantRoomIsWhatFollowSays(t *testing.T) {
	for _, product := range []drying.Product{colour(), oil()} {
		for _, c := range []drying.Conditions{room(20, 60), room(23, 50), room(14, 70)} {
			e := courses(t, 500, func(int, time.Duration) drying.Conditions { return c })
			chain := planner(t, Setup{Ensemble: e, Coats: coats(product)}).Chain(noon)
			var samples []drying.Sample
			for at := noon; at.Before(noon.Add(12 * 24 * time.Hour)); at = at.Add(10 * time.Minute) {
				samples = append(samples, drying.Sample{At: at, Conditions: c})
			}
			all := drying.Follow(drying.Coat{Product: product, Applied: noon}, samples, noon.Add(12*24*time.Hour), nil)
			recoat, handle := all[drying.DryToRecoat], all[drying.Handle]
			width := recoat.High.Sub(recoat.Low)
			near(t, product.Name+" likely", chain.Coats[0].Ready.Likely, recoat.Likely, time.Second+width/1000)
			near(t, product.Name+" low", chain.Coats[0].Ready.Low, recoat.Low, width/200)
			near(t, product.Name+" high", chain.Coats[0].Ready.High, recoat.High, width/200)
			near(t, product.Name+" done", chain.Done.Likely, handle.Likely, time.Second+handle.High.Sub(handle.Low)/1000)
			if chain.Ends != 1 || chain.Coats[0].Chance != 1 {
				t.Errorf("%s: the chain ends with chance %v, limits hold with %v: both are certain", product.Name, chain.Ends, chain.Coats[0].Chance)
			}
		}
	}
}

// A chain of two coats is one coat after the other, with the sanding between.
func TestACoatFollowsTheOneBefore(t *testing.T) {
	still := room(23, 50)
	e := courses(t, 1, func(int, time.Duration) drying.Conditions { return still })
	chain := planner(t, Setup{Ensemble: e, Coats: []Coat{
		{Product: colour(), Waits: []drying.Stage{drying.Sandable, drying.DryToRecoat}, Work: 20 * time.Minute},
		{Product: colour(), Waits: []drying.Stage{drying.DryToRecoat}},
	}}).Chain(noon)
	// At the label's own conditions each time is the label's own.
	near(t, "first ready", chain.Coats[0].Ready.Likely, noon.Add(3*time.Hour), time.Second)
	near(t, "second start", chain.Coats[1].Start.Likely, noon.Add(3*time.Hour+20*time.Minute), time.Second)
	near(t, "second ready", chain.Coats[1].Ready.Likely, noon.Add(5*time.Hour+20*time.Minute), 2*time.Second)
	near(t, "done", chain.Done.Likely, noon.Add(15*time.Hour+20*time.Minute), 2*time.Second)
}

// After the ensemble its last day comes again: a night that is too cold stops
// the clock on every day.
func TestTheLastDayRepeatsItself(t *testing.T) {
	e := courses(t, 1, func(_ int, since time.Duration) drying.Conditions {
		if since%(24*time.Hour) < 12*time.Hour {
			return room(20, 50)
		}
		return room(4, 50)
	})
	product := oil()
	product.Stated.Times[drying.Handle] = 59 * time.Hour
	chain := planner(t, Setup{Ensemble: e, Coats: coats(product)}).Chain(noon)
	// 59 label hours at 12 a day: an hour before the end of the fifth day's warm half.
	near(t, "done", chain.Done.Likely, noon.Add(4*24*time.Hour+11*time.Hour), time.Second)
}

func TestTheSeedDecides(t *testing.T) {
	e := weather(t, 101, 18, 60)
	at := func(seed uint64) Times {
		return planner(t, Setup{Ensemble: e, Coats: coats(colour(), oil()), Seed: seed}).Chain(noon).Done
	}
	first := at(3)
	if again := at(3); again != first {
		t.Error("the same seed gave two plans")
	}
	if at(4) == first {
		t.Error("two seeds gave the same plan: nothing is drawn")
	}
}

func TestNewRefusesWhatCannotBePlanned(t *testing.T) {
	e := weather(t, 3, 20, 50)
	good := Setup{Ensemble: e, Coats: coats(colour()), Finish: drying.Handle, Hours: allDay()}
	if _, err := New(good); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Setup){
		"no ensemble":      func(s *Setup) { s.Ensemble = nil },
		"no coat":          func(s *Setup) { s.Coats = nil },
		"no wait":          func(s *Setup) { s.Coats = []Coat{{Product: colour()}} },
		"no such wait":     func(s *Setup) { s.Coats = []Coat{{Product: colour(), Waits: []drying.Stage{99}}} },
		"no such finish":   func(s *Setup) { s.Finish = 99 },
		"endless work":     func(s *Setup) { s.Coats = coats(colour()); s.Coats[0].Work = 25 * time.Hour },
		"no product":       func(s *Setup) { s.Coats = coats(drying.Product{}) },
		"no place":         func(s *Setup) { s.Hours.Location = nil },
		"hours backwards":  func(s *Setup) { s.Hours.From, s.Hours.To = 9*time.Hour, 8*time.Hour },
		"hours of no day":  func(s *Setup) { s.Hours.To = 25 * time.Hour },
		"air cooled":       func(s *Setup) { s.Change.RaiseAir = -1 },
		"no number":        func(s *Setup) { s.Change.HoldHumidity = sensors.RelativeHumidity(math.NaN()) },
		"a storm":          func(s *Setup) { s.Change.MoveAir = 50 },
		"a flood of paint": func(s *Setup) { s.Change.Film = 5000 },
	} {
		s := good
		spoil(&s)
		if _, err := New(s); err == nil {
			t.Errorf("%s: planned all the same", name)
		}
	}
}
