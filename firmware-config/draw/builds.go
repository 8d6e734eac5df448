// Command draw makes the wiring drawings from the same tables that the tests
// hold against the 40-pin header. Run it in firmware-config: go run ./draw
package main

import "strings"

// Wire joins a pin of the header, or a terminal of another part, to a terminal.
type Wire struct {
	From     string // "pin 1", or "MUX SD0"
	Terminal string
	Colour   string
}

// origin says in words where the wire comes from.
func (w Wire) origin() string {
	if terminal, found := strings.CutPrefix(w.From, "MUX "); found {
		return terminal + " of the switch"
	}
	return w.From
}

// Part is one board or probe with its terminals, drawn as a box.
type Part struct {
	Name  string // as the wires of other parts name it
	Title string
	Lines []string // what to know of it
	Wires []Wire
	Outs  []string // terminals that wires to other parts start from
	Far   bool     // at the end of a long cable: drawn to the right
}

// Build is one drawing.
type Build struct {
	File, Title string
	Parts       []Part
	Notes       []string
}

// The colours of the wires: any will do, but one for each use, everywhere.
const (
	red    = "#b3261e" // 3.3 V
	black  = "#222222" // ground
	blue   = "#1a5fb4" // data
	green  = "#26712e" // clock of a bus
	orange = "#b35c00" // 1-wire data
)

// bus are the four wires of an I²C chip.
func bus(power, ground, sda, scl string) []Wire {
	return []Wire{
		{From: power, Terminal: "3.3 V", Colour: red},
		{From: ground, Terminal: "GND", Colour: black},
		{From: sda, Terminal: "SDA", Colour: blue},
		{From: scl, Terminal: "SCL", Colour: green},
	}
}

// probe are the three wires of a DS18B20.
func probe() []Wire {
	return []Wire{
		{From: "pin 17", Terminal: "supply", Colour: red},
		{From: "pin 14", Terminal: "ground", Colour: black},
		{From: "pin 7", Terminal: "data", Colour: orange},
	}
}

func builds() []Build {
	return []Build{
		{
			File: "minimum.svg", Title: "Build 1: one room, the least that serves",
			Parts: []Part{
				{Name: "AIR", Title: "BME280: air", Lines: []string{"hangs at the height of the work,", "away from the Pi. Address 0x76 or 0x77"}, Wires: bus("pin 1", "pin 9", "pin 3", "pin 5")},
				{Name: "DOOR", Title: "DS18B20: surface of the piece", Lines: []string{"4.7 kΩ from data to supply,", "once, near the Pi"}, Wires: probe()},
			},
			Notes: []string{"The Pi's own pins 3 and 5 have the resistors that I²C needs.", "Cable of the BME280: 2 m at most. Cable of the probe: 10 m is no trouble."},
		},
		{
			File: "two-surfaces.svg", Title: "Build 2: two surfaces, humidity twice, a clock",
			Parts: []Part{
				{Name: "AIR", Title: "BME280: air", Lines: []string{"0x76 or 0x77"}, Wires: bus("pin 1", "pin 9", "pin 3", "pin 5")},
				{Name: "TWIN", Title: "SHT4x: the same air again", Lines: []string{"beside the BME280. Address 0x44.", "When the two drift apart, one is worn"}, Wires: bus("pin 1", "pin 9", "pin 3", "pin 5")},
				{Name: "RTC", Title: "DS3231: clock with a cell", Lines: []string{"at the Pi. Address 0x68"}, Wires: bus("pin 1", "pin 9", "pin 3", "pin 5")},
				{Name: "DOOR", Title: "DS18B20: first part", Lines: []string{"4.7 kΩ from data to supply,", "once for both probes"}, Wires: probe()},
				{Name: "TOP", Title: "DS18B20: second part", Lines: []string{"the same three wires"}, Wires: probe()},
			},
			Notes: []string{"Wires of one colour that start at one pin are one wire: join them on a terminal strip.", "Each DS18B20 has a number of its own; recoat sensors list shows it: warm one in the hand to know which it is."},
		},
		{
			File: "long-cable.svg", Title: "Build 3: long cables, one sensor on each",
			Parts: []Part{
				{Name: "MUX", Title: "PCA9548: switch for eight cables", Lines: []string{"at the Pi. Address 0x70; 4.7 kΩ from SDA and", "from SCL to 3.3 V, here and on each port"}, Wires: bus("pin 1", "pin 20", "pin 16", "pin 18"), Outs: []string{"SD0", "SC0", "SD1", "SC1", "SD2", "SC2"}},
				{Name: "RTC", Title: "DS3231: clock with a cell", Lines: []string{"at the Pi, on its own bus"}, Wires: bus("pin 17", "pin 9", "pin 3", "pin 5")},
				{Name: "AIR", Title: "SHT3x: air, far corner", Lines: []string{"up to 10 m, common practice"}, Far: true, Wires: bus("pin 1", "pin 20", "MUX SD0", "MUX SC0")},
				{Name: "WINDOW", Title: "SHT3x: air by the window", Lines: []string{"the same address as the other:", "the switch keeps them apart"}, Far: true, Wires: bus("pin 1", "pin 20", "MUX SD1", "MUX SC1")},
				{Name: "EYE", Title: "MLX90614: a surface from afar", Lines: []string{"paint and wood only, never bare metal;", "stretches the clock, hence this bus"}, Far: true, Wires: bus("pin 1", "pin 20", "MUX SD2", "MUX SC2")},
			},
			Notes: []string{"Four wires to each sensor in one twisted or screened cable: data with ground, clock with supply.", "Pins 16 and 18 have no resistors of their own."},
		},
	}
}
