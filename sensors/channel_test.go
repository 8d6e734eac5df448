package sensors

import (
	"math"
	"strings"
	"testing"
)

// The unit symbols of the SenML registry: RFC 8428, section 12.1, and for ppm
// RFC 8798, section 3.
func TestQuantitiesHaveRegisteredUnits(t *testing.T) {
	want := map[string]string{
		"air-temperature": "Cel", "relative-humidity": "%RH", "surface-temperature": "Cel", "pressure": "Pa",
		"co2": "ppm", "voc-index": "/", "air-speed": "m/s", "supply-voltage": "V",
		"board-temperature": "Cel", "undervoltage": "/",
	}
	all := Quantities()
	if len(all) != len(want) {
		t.Fatalf("%d quantities, want %d", len(all), len(want))
	}
	for _, q := range all {
		if q.Unit() != want[q.String()] {
			t.Errorf("%s is in %q, want %q", q, q.Unit(), want[q.String()])
		}
		if got, err := ParseQuantity(q.String()); err != nil || got != q {
			t.Errorf("%s parses as %v, %v", q, got, err)
		}
	}
}

func TestNoQuantityIsNothing(t *testing.T) {
	for _, q := range []Quantity{0, Undervoltage + 1, 255} {
		if q.Unit() != "" || q.Step() != 0 || q.Possible(1) {
			t.Errorf("quantity %d has unit %q, step %v, possible %v", q, q.Unit(), q.Step(), q.Possible(1))
		}
	}
	for _, name := range []string{"", "humidity", "Air-Temperature", "no quantity"} {
		if q, err := ParseQuantity(name); err == nil {
			t.Errorf("%q parses as %v", name, q)
		}
	}
}

func TestPossibleRefusesWhatIsNoNumber(t *testing.T) {
	for _, q := range Quantities() {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1e9, 1e9} {
			if q.Possible(v) {
				t.Errorf("%s can be %v", q, v)
			}
		}
	}
	if AirTemperature.Possible(-ZeroCelsius) || AirHumidity.Possible(100.01) || AirPressure.Possible(0) {
		t.Error("0 K, 100.01 % or a vacuum is possible")
	}
	if !AirTemperature.Possible(-12.5) || !AirHumidity.Possible(0) || !AirHumidity.Possible(100) {
		t.Error("-12.5 °C, 0 % or 100 % is impossible")
	}
}

// What is stored and read again is stored the same: no value moves by being kept.
func TestStepsKeepTheirValue(t *testing.T) {
	for _, q := range Quantities() {
		for n := int64(-70000); n <= 130000; n += 37 {
			v := q.FromSteps(n)
			if back := q.Steps(v); back != n {
				t.Fatalf("%s: step %d is %v, which is step %d", q, n, v, back)
			}
			if math.Abs(v-float64(n)*q.Step()) > 1e-9*math.Abs(v) {
				t.Fatalf("%s: step %d is %v, want %v", q, n, v, float64(n)*q.Step())
			}
		}
	}
	if got := AirTemperature.FromSteps(AirTemperature.Steps(21.37)); got != 21.37 {
		t.Errorf("21.37 is kept as %v", got)
	}
}

func TestChannelNames(t *testing.T) {
	long := strings.Repeat("a", MaxProbe)
	table := map[string]Channel{
		"relative-humidity":                   {Quantity: AirHumidity},
		"surface-temperature:28-0316a2791b5f": {SurfaceTemperature, "28-0316a2791b5f"},
		"air-temperature:1-0045":              {AirTemperature, "1-0045"},
		"co2:" + long:                         {CarbonDioxide, long},
	}
	for name, want := range table {
		got, err := ParseChannel(name)
		if err != nil || got != want || got.String() != name {
			t.Errorf("%q parses as %v, %v", name, got, err)
		}
	}
	for _, name := range []string{"", ":", "air-temperature:", "air-temperature:a b", "air-temperature:a:b", "air-temperature:ä", "warmth:x", "co2:" + long + "a"} {
		if got, err := ParseChannel(name); err == nil {
			t.Errorf("%q parses as %v", name, got)
		}
	}
}

func FuzzParseChannel(f *testing.F) {
	for _, s := range []string{"pressure", "surface-temperature:28-0316a2791b5f", "co2:", "x:y:z"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseChannel(s)
		if err == nil && c.String() != s {
			t.Errorf("%q parses as %q", s, c)
		}
	})
}
