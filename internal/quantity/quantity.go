package quantity

import (
	"recoat/drying"
	"recoat/sensors"
)

var (
	temperature = measure{
		noun: "a temperature", example: "20C or 68F", lowest: "-60C", highest: "150C", min: -60, max: 150,
		units: []unit{{"C", 1, 0}, {"°C", 1, 0}, {"F", 5. / 9, 32}, {"°F", 5. / 9, 32}},
	}
	difference = measure{
		noun: "a temperature difference", example: "3C, 3K or 5F", lowest: "-100K", highest: "100K", min: -100, max: 100,
		units: []unit{{"K", 1, 0}, {"C", 1, 0}, {"°C", 1, 0}, {"F", 5. / 9, 0}, {"°F", 5. / 9, 0}},
	}
	humidity = measure{
		noun: "a relative humidity", example: "60 or 60%", lowest: "0%", highest: "100%", min: 0, max: 100,
		units: []unit{{"", 1, 0}, {"%", 1, 0}},
	}
	film = measure{
		noun: "a film thickness", example: "100um or 4mil", lowest: "1um", highest: "5000um", min: 1, max: 5000,
		units: []unit{{"um", 1, 0}, {"µm", 1, 0}, {"μm", 1, 0}, {"mil", micronsPerMil, 0}},
	}
	thickness = measure{
		noun: "a thickness", example: "18mm or 0.75in", lowest: "0.1mm", highest: "1000mm", min: 0.1, max: 1000,
		units: []unit{{"mm", 1, 0}, {"cm", 10, 0}, {"in", millimetresPerInch, 0}},
	}
	speed = measure{
		noun: "an air speed", example: "0.1m/s or 20fpm", lowest: "0m/s", highest: "100m/s", min: 0, max: 100,
		units: []unit{{"m/s", 1, 0}, {"fpm", metresPerFoot / secondsPerMinute, 0}},
	}
	pressure = measure{
		noun: "an air pressure", example: "1013hPa", lowest: "300hPa", highest: "1200hPa", min: 30000, max: 120000,
		units: []unit{{"hPa", 100, 0}, {"kPa", 1000, 0}, {"Pa", 1, 0}},
	}
)

// The inch is 25.4 mm exactly (NIST SP 811, appendix B); the rest follows.
const (
	millimetresPerInch = 25.4
	micronsPerMil      = millimetresPerInch
	metresPerFoot      = 12 * millimetresPerInch / 1000
	secondsPerMinute   = 60
)

// ParseTemperature reads "20C" or "68F", from -60 to 150 °C.
func ParseTemperature(s string) (sensors.Celsius, error) {
	v, err := temperature.parse(s)
	return sensors.Celsius(v), err
}

// FormatTemperature writes t as "20C".
func FormatTemperature(t sensors.Celsius) string { return number(float64(t)) + "C" }

// ParseDifference reads a difference of temperatures, "3C", "3K" or "5F", from
// -100 to 100 K.
func ParseDifference(s string) (sensors.Kelvins, error) {
	v, err := difference.parse(s)
	return sensors.Kelvins(v), err
}

// FormatDifference writes d as "3K".
func FormatDifference(d sensors.Kelvins) string { return number(float64(d)) + "K" }

// ParseHumidity reads "60" or "60%", from 0 to 100.
func ParseHumidity(s string) (sensors.RelativeHumidity, error) {
	v, err := humidity.parse(s)
	return sensors.RelativeHumidity(v), err
}

// FormatHumidity writes h as "60%".
func FormatHumidity(h sensors.RelativeHumidity) string { return number(float64(h)) + "%" }

// ParseFilm reads the thickness of a film, "100um" or "4mil", from 1 to
// 5000 µm.
func ParseFilm(s string) (drying.Microns, error) {
	v, err := film.parse(s)
	return drying.Microns(v), err
}

// FormatFilm writes f as "100um".
func FormatFilm(f drying.Microns) string { return number(float64(f)) + "um" }

// ParseThickness reads the thickness of a board, "18mm" or "0.75in", from 0.1
// to 1000 mm, and returns it in millimetres.
func ParseThickness(s string) (float64, error) { return thickness.parse(s) }

// FormatThickness writes a thickness in millimetres as "18mm".
func FormatThickness(mm float64) string { return number(mm) + "mm" }

// ParseSpeed reads an air speed, "0.1m/s" or "20fpm", from 0 to 100 m/s.
func ParseSpeed(s string) (sensors.MetresPerSecond, error) {
	v, err := speed.parse(s)
	return sensors.MetresPerSecond(v), err
}

// FormatSpeed writes v as "0.1m/s".
func FormatSpeed(v sensors.MetresPerSecond) string { return number(float64(v)) + "m/s" }

// ParsePressure reads "1013hPa", "101.3kPa" or "101325Pa", from 300 to
// 1200 hPa.
func ParsePressure(s string) (sensors.Pascals, error) {
	v, err := pressure.parse(s)
	return sensors.Pascals(v), err
}

// FormatPressure writes p as "101325Pa": hectopascals could round.
func FormatPressure(p sensors.Pascals) string { return number(float64(p)) + "Pa" }
