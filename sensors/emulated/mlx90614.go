package emulated

import (
	"fmt"
	"math"

	"recoat/sensors"
)

// MLX90614 is an emulated infrared thermometer, alone on a bus of its own. It
// looks at a surface of a given emissivity, in a room as warm as itself.
type MLX90614 struct {
	part
	set     float64 // the emissivity it reckons with
	serial  uint16
	ambient float64 // K
	object  float64 // K, as the chip reckons it
	invalid bool
}

// NewMLX90614 returns a chip at addr that reckons with the emissivity set, at
// 20 °C before a surface at 20 °C.
func NewMLX90614(addr uint16, set float64, serial uint16) *MLX90614 {
	c := &MLX90614{part: part{kind: "mlx90614", addr: addr}, set: set, serial: serial}
	c.tx = c.transact
	c.Set(20, 20, 1)
	return c
}

// Set puts the chip at one temperature and before a surface at another, of this
// emissivity.
func (c *MLX90614) Set(chip, surface sensors.Celsius, emissivity float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ambient = chip.Absolute()
	gets := emissivity * (math.Pow(surface.Absolute(), 4) - math.Pow(c.ambient, 4))
	c.object = math.Pow(math.Pow(c.ambient, 4)+gets/c.set, 0.25)
}

// SetInvalid makes the chip mark its own readings as errors.
func (c *MLX90614) SetInvalid(invalid bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.invalid = invalid
}

func (c *MLX90614) transact(w, r []byte) error {
	if len(w) != 1 || len(r) > 3 {
		return refused{fmt.Sprintf("a transfer of %d bytes out and %d in", len(w), len(r))}
	}
	word, err := c.word(w[0])
	if err != nil {
		return err
	}
	lo, hi := byte(word), byte(word>>8)
	sum := divide(0x107, 0, []byte{byte(c.addr << 1), w[0], byte(c.addr<<1 | 1), lo, hi})
	copy(r, []byte{lo, hi, sum})
	return nil
}

func (c *MLX90614) word(address byte) (uint16, error) {
	flag := uint16(0)
	if c.invalid {
		flag = 1 << 15
	}
	switch address {
	case 0x06:
		return count(c.ambient/0.02) | flag, nil
	case 0x07:
		return count(c.object/0.02) | flag, nil
	case 0x24:
		return count(c.set * 65535), nil
	case 0x3C, 0x3D, 0x3E, 0x3F:
		return c.serial + uint16(address), nil
	}
	return 0, refused{fmt.Sprintf("address %#02x", address)}
}
