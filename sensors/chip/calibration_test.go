package chip

import (
	"math"
	"testing"
)

// usual is a calibration of the usual size; t_fine 128422 is 25.08 °C, as in
// the worked example of BST-BMP280-DS001, section 3.12.
var usual = calibration{t1: 27504, t2: 26435, t3: -1000, h1: 75, h2: 366, h3: 0, h4: 300, h5: 50, h6: 30}

// The datasheet has no worked example for humidity: the first two values are its
// formula (BST-BME280-DS002, section 8.1) worked out by another hand.
func TestHumidityFormula(t *testing.T) {
	negative := usual
	negative.h5 = -30
	table := []struct {
		name       string
		cal        calibration
		raw        int32
		want, span float64
	}{
		{"usual", usual, 30000, 60.278, 0.0005},
		{"H5 = -30", negative, 30000, 61.7, 0.05},
		{"a raw value below the scale", usual, 100, 0, 0},
		{"a raw value above the scale", usual, 65000, 100, 0},
	}
	for _, c := range table {
		if got := c.cal.humidity(c.raw, 128422); math.Abs(got-c.want) > c.span {
			t.Errorf("%s: %v %%, want %v", c.name, got, c.want)
		}
	}
	if got := usual.fine(519888); math.Abs(got-128422) > 0.5 {
		t.Errorf("t_fine is %v, want 128422", got)
	}
}

// A real chip's calibration and data, and what the datasheet's arithmetic in
// whole numbers makes of them, as recorded in the tests of periph.io/x/devices/v3
// v3.7.4 (bmxx80/bmx280_test.go): t_fine 117407, 64686/1024 %.
func TestHumidityOfARecordedChip(t *testing.T) {
	cal := calibration{t1: 28176, t2: 26220, t3: 350, h1: 75, h2: 366, h3: 0, h4: 309, h5: 0, h6: 30}
	if got := cal.fine(524112); math.Abs(got-117407) > 2 {
		t.Errorf("t_fine is %v, want 117407", got)
	}
	if got := cal.percent(raws{t: 524112, h: 30987}); math.Abs(got-64686.0/1024) > 0.01 {
		t.Errorf("humidity is %v %%, want %v", got, 64686.0/1024)
	}
}

// BST-BME280-DS002, table 16: H4 is 0xE4 and the low half of 0xE5, H5 is 0xE6
// and the high half, both with a sign.
func TestCalibrationKeepsTheSignsOfH4AndH5(t *testing.T) {
	table := []struct {
		bytes  [3]byte // 0xE4 to 0xE6
		h4, h5 int16
	}{
		{[3]byte{0x12, 0x2C, 0x03}, 0x12C, 0x032},
		{[3]byte{0xFF, 0xFF, 0xFF}, -1, -1},
		{[3]byte{0xFE, 0x24, 0xFE}, -28, -30},
		{[3]byte{0x80, 0x00, 0x80}, -2048, -2048},
		{[3]byte{0x7F, 0xFF, 0x7F}, 2047, 2047},
	}
	for _, c := range table {
		got := parseCalibration([26]byte{}, [7]byte{3: c.bytes[0], 4: c.bytes[1], 5: c.bytes[2]})
		if got.h4 != c.h4 || got.h5 != c.h5 {
			t.Errorf("% x: H4 %d, H5 %d, want %d and %d", c.bytes, got.h4, got.h5, c.h4, c.h5)
		}
	}
}
