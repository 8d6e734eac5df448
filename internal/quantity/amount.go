package quantity

var (
	volume = measure{
		noun: "a volume", example: "250mL, 0.75L or 8floz", lowest: "0.01mL", highest: "1000L", min: 0.01, max: 1e6,
		units: []unit{{"mL", 1, 0}, {"L", 1000, 0}, {"floz", millilitresPerFluidOunce, 0}},
	}
	mass = measure{
		noun: "a mass", example: "250g or 1.2kg", lowest: "0.01g", highest: "1000kg", min: 0.01, max: 1e6,
		units: []unit{{"g", 1, 0}, {"kg", 1000, 0}, {"oz", gramsPerOunce, 0}},
	}
	density = measure{
		noun: "a density", example: "1.2g/mL", lowest: "0.1g/mL", highest: "10g/mL", min: 0.1, max: 10,
		units: []unit{{"g/mL", 1, 0}, {"kg/L", 1, 0}, {"g/L", 1e-3, 0}},
	}
	area = measure{
		noun: "an area", example: "1.5m2 or 16ft2", lowest: "1cm2", highest: "10000m2", min: 1e-4, max: 1e4,
		units: []unit{{"m2", 1, 0}, {"m²", 1, 0}, {"cm2", 1e-4, 0}, {"cm²", 1e-4, 0}, {"ft2", metresPerFoot * metresPerFoot, 0}, {"ft²", metresPerFoot * metresPerFoot, 0}},
	}
)

// The US gallon is 231 cubic inches and holds 128 fluid ounces; the pound is
// 453.59237 g and has 16 ounces (NIST SP 811, appendix B).
const (
	millilitresPerFluidOunce = 231 * 2.54 * 2.54 * 2.54 / 128
	gramsPerOunce            = 453.59237 / 16
)

// ParseVolume reads "250mL", "0.75L" or US "8floz", from 0.01 mL to 1000 L, and
// returns it in millilitres.
func ParseVolume(s string) (float64, error) { return volume.parse(s) }

// FormatVolume writes a volume in millilitres as "250mL".
func FormatVolume(ml float64) string { return number(ml) + "mL" }

// ParseMass reads "250g", "1.2kg" or "9oz", from 0.01 g to 1000 kg, and returns
// it in grams.
func ParseMass(s string) (float64, error) { return mass.parse(s) }

// FormatMass writes a mass in grams as "250g".
func FormatMass(g float64) string { return number(g) + "g" }

// ParseDensity reads "1.2g/mL", "1.2kg/L" or "1200g/L", from 0.1 to 10 g/mL, and
// returns it in grams per millilitre.
func ParseDensity(s string) (float64, error) { return density.parse(s) }

// FormatDensity writes a density in grams per millilitre as "1.2g/mL".
func FormatDensity(d float64) string { return number(d) + "g/mL" }

// ParseArea reads "1.5m2", "900cm2" or "16ft2", from 1 cm² to 10000 m², and
// returns it in square metres.
func ParseArea(s string) (float64, error) { return area.parse(s) }

// FormatArea writes an area in square metres as "1.5m2".
func FormatArea(m2 float64) string { return number(m2) + "m2" }
