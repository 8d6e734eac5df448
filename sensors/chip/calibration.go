package chip

import (
	"encoding/binary"
	"errors"
)

// calibration is the part of a BME280's calibration that humidity needs. The
// driver reads H4 and H5 without their sign, and a chip with a negative one
// would show a humidity far off.
type calibration struct {
	t1     uint16
	t2, t3 int16
	h1, h3 uint8
	h2     int16
	h4, h5 int16
	h6     int8
}

func readCalibration(t *tap) (calibration, error) {
	var tp [26]byte // 0x88 to 0xA1
	var h [7]byte   // 0xE1 to 0xE7
	if err := t.Tx(t.addr, []byte{regCalTP}, tp[:]); err != nil {
		return calibration{}, err
	}
	if err := t.Tx(t.addr, []byte{regCalH}, h[:]); err != nil {
		return calibration{}, err
	}
	c := parseCalibration(tp, h)
	if c.t1 == 0 || c.t1 == 0xFFFF || c.t2 == 0 || c.h2 == 0 {
		return calibration{}, errors.New("the chip's calibration is blank")
	}
	return c, nil
}

// parseCalibration follows BST-BME280-DS002, table 16: H4 and H5 share the byte
// at 0xE5 and are signed numbers of 12 bits, with the upper 8 in 0xE4 and 0xE6.
func parseCalibration(tp [26]byte, h [7]byte) calibration {
	return calibration{
		t1: binary.LittleEndian.Uint16(tp[0:]),
		t2: int16(binary.LittleEndian.Uint16(tp[2:])),
		t3: int16(binary.LittleEndian.Uint16(tp[4:])),
		h1: tp[25],
		h2: int16(binary.LittleEndian.Uint16(h[0:])),
		h3: h[2],
		h4: int16(int8(h[3]))<<4 | int16(h[4]&0xF),
		h5: int16(int8(h[5]))<<4 | int16(h[4]>>4),
		h6: int8(h[6]),
	}
}

// percent returns the relative humidity in per cent, 0 to 100, by the formula of
// BST-BME280-DS002, section 8.1.
func (c calibration) percent(r raws) float64 { return c.humidity(r.h, c.fine(r.t)) }

// fine is the temperature in steps of 1/5120 °C.
func (c calibration) fine(raw int32) float64 {
	near := float64(raw)/131072 - float64(c.t1)/8192
	return near*8*float64(c.t2) + near*near*float64(c.t3)
}

func (c calibration) humidity(raw int32, fine float64) float64 {
	warmth := fine - 76800 // from 15 °C
	zero := 64*float64(c.h4) + float64(c.h5)*warmth/16384
	bend := 1 + float64(c.h3)*warmth/67108864
	slope := float64(c.h2) / 65536 * (1 + float64(c.h6)*warmth/67108864*bend)
	rh := (float64(raw) - zero) * slope
	rh -= rh * rh * float64(c.h1) / 524288
	return min(max(rh, 0), 100)
}
