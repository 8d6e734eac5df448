package emulated

import (
	"encoding/binary"
	"sort"
)

// Calibration is what a BME280 carries in its fixed memory. The names are the
// datasheet's, without "dig_" (BST-BME280-DS002, table 16). H4 and H5 hold 12
// bits with a sign.
type Calibration struct {
	T1                             uint16
	T2, T3                         int16
	P1                             uint16
	P2, P3, P4, P5, P6, P7, P8, P9 int16
	H1                             uint8
	H2                             int16
	H3                             uint8
	H4, H5                         int16
	H6                             int8
}

// Typical returns the calibration of a chip as they are made. T and P are those
// of the worked example in the datasheet of the chip's sibling without humidity
// (BST-BMP280-DS001, section 3.12), H is a set of the usual size.
func Typical() Calibration {
	return Calibration{
		T1: 27504, T2: 26435, T3: -1000,
		P1: 36477, P2: -10685, P3: 3024, P4: 2855, P5: 140, P6: -7, P7: 15500, P8: -14600, P9: 6000,
		H1: 75, H2: 366, H3: 0, H4: 300, H5: 50, H6: 30,
	}
}

// store lays the calibration out in the registers 0x88 to 0xA1 and 0xE1 to 0xE7.
func (c Calibration) store(regs *[256]byte) {
	words := []uint16{
		c.T1, uint16(c.T2), uint16(c.T3), c.P1, uint16(c.P2), uint16(c.P3), uint16(c.P4),
		uint16(c.P5), uint16(c.P6), uint16(c.P7), uint16(c.P8), uint16(c.P9),
	}
	for i, w := range words {
		binary.LittleEndian.PutUint16(regs[0x88+2*i:], w)
	}
	regs[0xA1] = c.H1
	binary.LittleEndian.PutUint16(regs[0xE1:], uint16(c.H2))
	regs[0xE3] = c.H3
	regs[0xE4] = byte(c.H4 >> 4)
	regs[0xE5] = byte(c.H4&0xF) | byte(c.H5&0xF)<<4
	regs[0xE6] = byte(c.H5 >> 4)
	regs[0xE7] = byte(c.H6)
}

// The compensation below is the datasheet's in floating point (BST-BME280-DS002,
// section 8.1); t_fine is the temperature in steps of 1/5120 °C.

func (c Calibration) fine(raw float64) float64 {
	linear := (raw/16384 - float64(c.T1)/1024) * float64(c.T2)
	bend := raw/131072 - float64(c.T1)/8192
	return linear + bend*bend*float64(c.T3)
}

func (c Calibration) celsius(raw float64) float64 { return c.fine(raw) / 5120 }

func (c Calibration) pascals(raw, fine float64) float64 {
	x := fine/2 - 64000
	offset := (x*x*float64(c.P6)/32768+x*float64(c.P5)*2)/4 + float64(c.P4)*65536
	gain := (float64(c.P3)*x*x/524288 + float64(c.P2)*x) / 524288
	gain = (1 + gain/32768) * float64(c.P1)
	if gain == 0 {
		return 0
	}
	p := (1048576 - raw - offset/4096) * 6250 / gain
	return p + (float64(c.P9)*p*p/2147483648+p*float64(c.P8)/32768+float64(c.P7))/16
}

func (c Calibration) percent(raw, fine float64) float64 {
	x := fine - 76800
	slope := float64(c.H2) / 65536 * (1 + float64(c.H6)/67108864*x*(1+float64(c.H3)/67108864*x))
	h := (raw - (float64(c.H4)*64 + float64(c.H5)/16384*x)) * slope
	return h * (1 - float64(c.H1)*h/524288)
}

// The value a converter's register holds while its quantity is skipped.
const (
	skipped20 = 0x80000
	skipped16 = 0x8000
)

// raws returns what the chip's converters would hold. It steps aside of the
// values that stand for "not measured", so that what is set can be read.
func (c Calibration) raws(air, rh, pressure float64) (t, p, h uint32) {
	t = invert(1<<20, skipped20, func(raw float64) float64 { return c.celsius(raw) - air })
	fine := c.fine(float64(t))
	p = invert(1<<20, skipped20, func(raw float64) float64 { return pressure - c.pascals(raw, fine) })
	h = invert(1<<16, skipped16, func(raw float64) float64 { return c.percent(raw, fine) - rh })
	return t, p, h
}

// invert finds the whole number in [0, n), other than barred, at which a rising
// function comes closest to zero.
func invert(n, barred int, f func(float64) float64) uint32 {
	i := min(sort.Search(n, func(i int) bool { return f(float64(i)) >= 0 }), n-1)
	if i > 0 && -f(float64(i-1)) < f(float64(i)) {
		i--
	}
	if i == barred {
		i++
	}
	return uint32(i)
}
