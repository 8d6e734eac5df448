package calibration

import (
	"math"
	"strings"
	"testing"
	"time"

	"recoat/sensors"
)

// published is the table of T. Padfield, "Saturated salt solutions"
// (Conservation physics), to 0.1 %RH at 5, 10, 15, 20 and 25 °C. Of sodium
// chloride at 20 °C it says 75.7, which neither its neighbours nor Greenspan's
// equation (75.48) bear out; Greenspan's own 75.47, from memory, stands there.
// Entries of NaN were not at hand.
var published = map[string][5]float64{
	"LiCl":  {11.3, 11.3, 11.3, 11.3, 11.3},
	"MgCl2": {33.6, math.NaN(), 33.3, 33.1, 32.8},
	"K2CO3": {43.1, 43.1, 43.1, 43.2, 43.2},
	"NaCl":  {75.7, 75.7, math.NaN(), 75.47, 75.3},
	"KCl":   {87.7, 86.8, 85.9, 85.1, 84.3},
	"K2SO4": {98.5, 98.2, 97.9, math.NaN(), 97.3},
}

func TestSaltsMatchThePublishedTable(t *testing.T) {
	seen := 0
	for _, s := range Salts() {
		for i, want := range published[s.ID] {
			if math.IsNaN(want) {
				continue
			}
			at := sensors.Celsius(5 + 5*i)
			got, err := s.Humidity(at)
			if err != nil || math.Abs(got-want) > 0.07 {
				t.Errorf("%s at %v °C: %.2f %%RH, published %.2f (%v)", s.ID, at, got, want, err)
			}
			seen++
		}
	}
	if seen != 27 {
		t.Errorf("compared %d values of 27", seen)
	}
}

// crc is the coarser table of the CRC Handbook of Chemistry and Physics,
// section 15, "Constant humidity solutions": RH = A exp(B/T), good to ±2 %.
var crc = map[string]struct{ a, b float64 }{
	"LiCl": {14.53, -75}, "MgCl2": {29.26, 34}, "NaCl": {69.20, 25}, "KCl": {49.38, 159}, "K2SO4": {86.75, 34},
}

func TestSaltsAgreeWithASecondTable(t *testing.T) {
	for id, c := range crc {
		s, err := FindSalt(id)
		if err != nil {
			t.Fatal(err)
		}
		for at := sensors.Celsius(10); at <= 25; at += 5 {
			got, _ := s.Humidity(at)
			if want := c.a * math.Exp(c.b/at.Absolute()); math.Abs(got-want) > 0.02*want {
				t.Errorf("%s at %v °C: %.2f, CRC %.2f", id, at, got, want)
			}
		}
	}
}

func TestASaltIsNotKnownBeyondItsSpan(t *testing.T) {
	s, _ := FindSalt("K2CO3")
	if _, err := s.Humidity(31); err == nil {
		t.Error("potassium carbonate at 31 °C was answered")
	}
	if _, err := s.Humidity(sensors.Celsius(math.NaN())); err == nil {
		t.Error("no temperature was answered")
	}
	if _, err := FindSalt("XYZ"); err == nil {
		t.Error("a salt that is none was found")
	}
}

var dawn = time.Date(2031, 5, 4, 6, 0, 0, 0, time.UTC)

// soaking gives a reading every ten seconds that nears rest as a sensor does.
func soaking(n int, rest, off, tau float64) []Point {
	all := make([]Point, n)
	for i := range all {
		s := float64(10 * i)
		all[i] = Point{dawn.Add(time.Duration(s) * time.Second), rest + off*math.Exp(-s/tau) + 0.02*math.Sin(s), 20}
	}
	return all
}

func TestASoakWaitsUntilTheSensorHasComeToRest(t *testing.T) {
	s := Soak{Quantity: sensors.AirHumidity, Began: dawn}
	points := soaking(1500, 73, -30, 900)
	if p := s.At(points, dawn.Add(30*time.Minute)); p.Steady || p.Left != 30*time.Minute {
		t.Errorf("after half an hour: %+v", p)
	}
	slow := soaking(1500, 73, -30, 4000)
	if p := s.At(slow, dawn.Add(61*time.Minute)); p.Steady || !strings.Contains(p.Why, "drifts") {
		t.Errorf("a slow sensor after an hour: %+v", p)
	}
	p := s.At(points, dawn.Add(3*time.Hour))
	if !p.Steady || math.Abs(p.Mean-73) > 0.05 || p.Sigma > 0.1 {
		t.Errorf("after three hours: %+v", p)
	}
	if p := s.At(points[:400], dawn.Add(3*time.Hour)); p.Steady {
		t.Errorf("a node that fell silent: %+v", p)
	}
	for i := range points {
		points[i].Warmth = sensors.Celsius(15 + float64(i)/200)
	}
	if p := s.At(points, dawn.Add(3*time.Hour)); p.Steady || !strings.Contains(p.Why, "temperature") {
		t.Errorf("a warming box: %+v", p)
	}
}

func TestTwoPointsUndoAGainAndAnOffset(t *testing.T) {
	low, _ := FindSalt("MgCl2")
	high, _ := FindSalt("NaCl")
	wrong := func(v float64) float64 { return 0.93*v + 4 } // what the sensor makes of it
	lowTruth, _ := low.Humidity(20)
	highTruth, _ := high.Humidity(20)
	a, err := AtSalt(low, 20, wrong(lowTruth), 0.1)
	if err != nil {
		t.Fatal(err)
	}
	b, err := AtSalt(high, 20, wrong(highTruth), 0.1)
	if err != nil {
		t.Fatal(err)
	}
	fit, err := TwoPoints(a, b)
	if err != nil {
		t.Fatal(err)
	}
	c := Calibration{Channel: sensors.Channel{Quantity: sensors.AirHumidity}, Gain: fit.Gain, Offset: fit.Offset}
	for v := 20.0; v < 95; v += 5 {
		if got := c.Apply(wrong(v)); math.Abs(got-v) > 1e-9 {
			t.Errorf("%v %%RH comes back as %v", v, got)
		}
	}
	if _, err := TwoPoints(b, a); err != nil {
		t.Errorf("the points the other way round: %v", err)
	}
	a.Raw, b.Raw = b.Raw, a.Raw
	if _, err := TwoPoints(a, b); err == nil {
		t.Error("salts that were mixed up were taken")
	}
	if _, err := TwoPoints(Known{Raw: 74, Truth: 75}, Known{Raw: 84, Truth: 85}); err == nil {
		t.Error("two points close together were taken")
	}
}

func TestTheIcePointGivesAnOffset(t *testing.T) {
	fit := OnePoint(sensors.SurfaceTemperature, AtIce(0.42, 0.02))
	if fit.Gain != 1 || math.Abs(fit.Offset+0.42) > 1e-12 || fit.Sigma < 0.05 || fit.Sigma > 0.2 {
		t.Errorf("%+v", fit)
	}
}

func TestABookCorrectsFromItsDateOnAndKeepsTheRaw(t *testing.T) {
	rh := sensors.Channel{Quantity: sensors.AirHumidity}
	one := Calibration{Node: "bench", Channel: rh, From: dawn, Gain: 1, Offset: 2, Sigma: 1.2, Method: SaltOne, Due: dawn.AddDate(1, 0, 0)}
	two := one
	two.From, two.Offset = dawn.Add(time.Hour), -3
	b := &Book{}
	if !b.Replace(map[string][]Calibration{"attic": {two, one}}) || b.Replace(map[string][]Calibration{"attic": {one, two}}) {
		t.Error("Replace does not say what is different")
	}
	raw := sensors.Round{Node: "bench", Readings: []sensors.Reading{{Channel: rh, Value: 60}, {Channel: sensors.Channel{Quantity: sensors.AirTemperature}, Value: 18}}}
	for _, c := range []struct {
		at   time.Duration
		want float64
	}{{-time.Second, 60}, {0, 62}, {time.Hour, 57}} {
		raw.Time = dawn.Add(c.at)
		got := b.Correct("attic", raw)
		if got.Readings[0].Value != c.want || got.Readings[1].Value != 18 || raw.Readings[0].Value != 60 {
			t.Errorf("at %v: %v, want %v", c.at, got.Readings, c.want)
		}
	}
	raw.Readings[0].Value = 99.5
	raw.Time = dawn
	if got := b.Correct("attic", raw).Readings[0].Value; got != 100 {
		t.Errorf("99.5 %% corrected by 2 is %v", got)
	}
	if b.Correct("cellar", raw).Readings[0].Value != 99.5 {
		t.Error("another room was corrected")
	}
	if s := b.Sigma("attic", "bench", rh, dawn, 2); s != 1.2 {
		t.Errorf("sigma %v", s)
	}
	if s := b.Sigma("attic", "bench", rh, dawn.AddDate(2, 0, 0), 2); s != 2 {
		t.Errorf("sigma when overdue %v", s)
	}
	for at, want := range map[time.Time]bool{dawn.Add(-time.Hour): false, one.Due: false, one.Due.Add(time.Second): true} {
		if got := b.Overdue("attic", "bench", rh, at); got != want {
			t.Errorf("overdue at %s: %v", at, got)
		}
	}
	if b.Overdue("attic", "bench", sensors.Channel{Quantity: sensors.AirTemperature}, dawn.AddDate(9, 0, 0)) {
		t.Error("a channel that was never checked is overdue")
	}
	if none := (*Book)(nil).Correct("attic", raw); none.Readings[0].Value != 99.5 {
		t.Error("no book corrected something")
	}
}

func TestACalibrationThatCannotBeIsRefused(t *testing.T) {
	good := Calibration{Node: "bench", Channel: sensors.Channel{Quantity: sensors.AirHumidity}, From: dawn, Gain: 1, Offset: 2, Sigma: 1, Method: SaltOne, Due: dawn.AddDate(1, 0, 0)}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for what, spoil := range map[string]func(*Calibration){
		"gain":     func(c *Calibration) { c.Gain = 2 },
		"no gain":  func(c *Calibration) { c.Gain = math.NaN() },
		"offset":   func(c *Calibration) { c.Offset = 40 },
		"sigma":    func(c *Calibration) { c.Sigma = 0 },
		"method":   func(c *Calibration) { c.Method = "guess" },
		"due":      func(c *Calibration) { c.Due = c.From },
		"quantity": func(c *Calibration) { c.Channel.Quantity = sensors.SupplyVoltage },
	} {
		c := good
		spoil(&c)
		if c.Check() == nil {
			t.Errorf("%s: taken", what)
		}
	}
}
