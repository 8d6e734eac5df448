package quantity

import "testing"

// NIST SP 811, appendix B: a US fluid ounce is 29.57353 mL, an ounce 28.34952 g,
// a square foot 0.09290304 m².
func TestParseAmounts(t *testing.T) {
	for _, c := range []struct {
		text   string
		parse  func(string) (float64, error)
		format func(float64) string
		want   float64
		shown  string
	}{
		{"250mL", ParseVolume, FormatVolume, 250, "250mL"},
		{"0.75L", ParseVolume, FormatVolume, 750, "750mL"},
		{"1 floz", ParseVolume, FormatVolume, 29.573529563, "29.573529563mL"},
		{"1.2kg", ParseMass, FormatMass, 1200, "1200g"},
		{"1oz", ParseMass, FormatMass, 28.349523125, "28.349523125g"},
		{"1200g/L", ParseDensity, FormatDensity, 1.2, "1.2g/mL"},
		{"1.5m2", ParseArea, FormatArea, 1.5, "1.5m2"},
		{"900 cm²", ParseArea, FormatArea, 0.09, "0.09m2"},
		{"1ft2", ParseArea, FormatArea, 0.09290304, "0.09290304m2"},
	} {
		got, err := c.parse(c.text)
		if err != nil || got != c.want || c.format(got) != c.shown {
			t.Errorf("%q: %v, %s, %v; want %v", c.text, got, c.format(got), err, c.want)
		}
	}
	for _, c := range []struct {
		text  string
		parse func(string) (float64, error)
		says  string
	}{
		{"250", ParseVolume, `"250" has no unit: write a volume such as 250mL, 0.75L or 8floz`},
		{"0mL", ParseVolume, `"0mL" is out of range: a volume lies between 0.01mL and 1000L`},
		{"1lb", ParseMass, `"1lb" has the unit "lb", which is none for a mass: write a mass such as 250g or 1.2kg`},
		{"-1m2", ParseArea, `"-1m2" is out of range: an area lies between 1cm2 and 10000m2`},
	} {
		if _, err := c.parse(c.text); err == nil || err.Error() != c.says {
			t.Errorf("%q: %v\n want %s", c.text, err, c.says)
		}
	}
}
