package quantity

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"
)

// parsers reads every measure as a bare number in its own unit.
var parsers = map[string]struct {
	parse  func(string) (float64, error)
	format func(float64) string
}{
	"temperature": {adapt(ParseTemperature), adaptFormat(FormatTemperature)},
	"difference":  {adapt(ParseDifference), adaptFormat(FormatDifference)},
	"humidity":    {adapt(ParseHumidity), adaptFormat(FormatHumidity)},
	"film":        {adapt(ParseFilm), adaptFormat(FormatFilm)},
	"thickness":   {adapt(ParseThickness), adaptFormat(FormatThickness)},
	"speed":       {adapt(ParseSpeed), adaptFormat(FormatSpeed)},
	"pressure":    {adapt(ParsePressure), adaptFormat(FormatPressure)},
	"volume":      {ParseVolume, FormatVolume},
	"mass":        {ParseMass, FormatMass},
	"area":        {ParseArea, FormatArea},
	"density":     {ParseDensity, FormatDensity},
}

func adapt[T ~float64](parse func(string) (T, error)) func(string) (float64, error) {
	return func(s string) (float64, error) { v, err := parse(s); return float64(v), err }
}

func adaptFormat[T ~float64](format func(T) string) func(float64) string {
	return func(v float64) string { return format(T(v)) }
}

// The factors are those of NIST SP 811 (2008), appendix B.8, recalled and not
// read again: 1 mil is 25.4 µm, 1 ft/min is 0.00508 m/s, 1 in is 25.4 mm,
// and a temperature in °F is 32 + 9/5 of that in °C.
func TestParse(t *testing.T) {
	for _, c := range []struct {
		kind, text string
		want       float64
	}{
		{"temperature", "20C", 20},
		{"temperature", "68F", 20},
		{"temperature", "-40F", -40},
		{"temperature", "212°F", 100},
		{"temperature", " 21.5 °C ", 21.5},
		{"temperature", "-0C", 0},
		{"difference", "3C", 3},
		{"difference", "3K", 3},
		{"difference", "9F", 5},
		{"difference", "-2.5K", -2.5},
		{"humidity", "60", 60},
		{"humidity", "60 %", 60},
		{"humidity", "0", 0},
		{"film", "100um", 100},
		{"film", "4mil", 101.6},
		{"film", "100µm", 100},
		{"film", "100μm", 100},
		{"thickness", "0.75in", 19.05},
		{"thickness", "1.8cm", 18},
		{"speed", "0.1m/s", 0.1},
		{"speed", "20fpm", 0.1016},
		{"pressure", "1013.25hPa", 101325},
		{"pressure", "101.325kPa", 101325},
		{"pressure", "101325Pa", 101325},
	} {
		got, err := parsers[c.kind].parse(c.text)
		if err != nil || got != c.want || got == 0 && math.Signbit(got) {
			t.Errorf("%s %q: %v, %v; want %v", c.kind, c.text, got, err, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ kind, text, says string }{
		{"temperature", "20", `"20" has no unit: write a temperature such as 20C or 68F`},
		{"temperature", "20K", `"20K" has the unit "K", which is none for a temperature: write a temperature such as 20C or 68F`},
		{"temperature", "20,5C", `"20,5C" has a comma: write a temperature such as 20C or 68F`},
		{"temperature", "", `"" is not a temperature: write a temperature such as 20C or 68F`},
		{"temperature", "warm", `"warm" is not a temperature: write a temperature such as 20C or 68F`},
		{"temperature", "200C", `"200C" is out of range: a temperature lies between -60C and 150C`},
		{"temperature", "1e1C", `"1e1C" has the unit "e1C", which is none for a temperature: write a temperature such as 20C or 68F`},
		{"temperature", "NaNC", `"NaNC" is not a temperature: write a temperature such as 20C or 68F`},
		{"temperature", "--5C", `"--5C" is not a temperature: write a temperature such as 20C or 68F`},
		{"difference", "3", `"3" has no unit: write a temperature difference such as 3C, 3K or 5F`},
		{"humidity", "101%", `"101%" is out of range: a relative humidity lies between 0% and 100%`},
		{"humidity", "-1", `"-1" is out of range: a relative humidity lies between 0% and 100%`},
		{"film", "100", `"100" has no unit: write a film thickness such as 100um or 4mil`},
		{"film", "0.5um", `"0.5um" is out of range: a film thickness lies between 1um and 5000um`},
		{"speed", "1", `"1" has no unit: write an air speed such as 0.1m/s or 20fpm`},
		{"pressure", "1013", `"1013" has no unit: write an air pressure such as 1013hPa`},
		{"pressure", "1013kPa", `"1013kPa" is out of range: an air pressure lies between 300hPa and 1200hPa`},
	} {
		if _, err := parsers[c.kind].parse(c.text); err == nil || err.Error() != c.says {
			t.Errorf("%s %q: %v\n want %s", c.kind, c.text, err, c.says)
		}
	}
}

func TestErrorsStayShort(t *testing.T) {
	long := strings.Repeat("9", 100_000) + "C"
	for kind, p := range parsers {
		if _, err := p.parse(long); err == nil || len(err.Error()) > 300 {
			t.Errorf("%s: the error has %d bytes", kind, len(err.Error()))
		}
	}
	if _, err := ParseDuration(long); err == nil || len(err.Error()) > 300 {
		t.Errorf("duration: %v", err)
	}
}

func FuzzRoundTrip(f *testing.F) {
	for _, s := range []string{"20C", "67F", "60%", "4mil", "20fpm", "1013.25hPa", "0.75in", "3K", "-0.1F", "99999999999999999999C", "١C", "20\x00C"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for kind, p := range parsers {
			v, err := p.parse(s)
			if err != nil {
				if !utf8.ValidString(err.Error()) {
					t.Errorf("%s %q: the error is not UTF-8", kind, s)
				}
				continue
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s %q: %v", kind, s, v)
			}
			text := p.format(v)
			if again, err := p.parse(text); err != nil || again != v {
				t.Errorf("%s %q: %v is written %s and read back as %v, %v", kind, s, v, text, again, err)
			}
		}
	})
}
