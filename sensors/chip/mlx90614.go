package chip

import (
	"context"
	"fmt"
	"math"

	"periph.io/x/conn/v3/i2c"

	"recoat/sensors"
)

// The memory of an MLX90614 (Melexis 3901090614, sections 8.4.5 and 8.4.6).
const (
	mlx90614Ambient    = 0x06
	mlx90614Object     = 0x07
	mlx90614Emissivity = 0x24 // of the lasting memory; 65535 is 1
	mlx90614Serial     = 0x3C // the first of four words of the lasting memory
	mlx90614Invalid    = 1 << 15
	mlx90614Step       = 0.02 // K
)

// Emissivity is that of most coatings and of wood in the far infrared (common
// practice, no source).
const Emissivity = 0.95

type mlx90614 struct {
	part
	set      float64 // the emissivity that the chip reckons with
	surface  float64 // the emissivity of what it looks at
	identity [4]uint16
}

// OpenMLX90614 finds an MLX90614 at addr (0x5A unless changed) and reads what
// emissivity it reckons with. It gives the temperature of the surface it looks
// at, whose emissivity is given, from 0.1 to 1; that is no use on bare metal.
// The chip's lasting memory is never written.
func OpenMLX90614(bus i2c.Bus, addr uint16, where string, emissivity float64) (*Chip, error) {
	m := &mlx90614{part: part{bus, addr}, surface: emissivity}
	name := Name("mlx90614", where, addr)
	if !(emissivity >= 0.1 && emissivity <= 1) {
		return nil, fmt.Errorf("open %s: an emissivity of %v: from 0.1 to 1, for paint and wood %v", name, emissivity, Emissivity)
	}
	if err := m.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: surfaceChannel(), measure: m.measure}, nil
}

func (m *mlx90614) open(ctx context.Context) error {
	set, err := m.word(ctx, mlx90614Emissivity)
	if err != nil {
		return err
	}
	if m.set = float64(set) / 65535; m.set < 0.1 {
		return fmt.Errorf("the chip reckons with an emissivity of %.3f, which cannot be meant", m.set)
	}
	m.identity, err = m.number(ctx)
	return err
}

// number reads the four words that tell this chip from every other.
func (m *mlx90614) number(ctx context.Context) (words [4]uint16, err error) {
	for i := range words {
		if words[i], err = m.word(ctx, mlx90614Serial+byte(i)); err != nil {
			return words, err
		}
	}
	return words, nil
}

func (m *mlx90614) measure(ctx context.Context) (measured, error) {
	identity, err := m.number(ctx)
	if err != nil {
		return measured{}, err
	}
	if identity != m.identity {
		return measured{}, fmt.Errorf("the chip's number is %04x, it was %04x: it has been changed for another", identity, m.identity)
	}
	ambient, err := m.kelvins(ctx, mlx90614Ambient)
	if err != nil {
		return measured{}, err
	}
	object, err := m.kelvins(ctx, mlx90614Object)
	if err != nil {
		return measured{}, err
	}
	return measured{[]float64{emitted(object, ambient, m.set/m.surface) - sensors.ZeroCelsius}, sensors.Good}, nil
}

// emitted turns the temperature that the chip reckons with its own emissivity
// into that for another. What the chip receives goes with the difference of the
// fourth powers (Stefan and Boltzmann), and the surroundings are as warm as the
// chip, as it assumes itself. All are in kelvins.
func emitted(object, ambient, ratio float64) float64 {
	room := math.Pow(ambient, 4)
	return math.Sqrt(math.Sqrt(max(room+(math.Pow(object, 4)-room)*ratio, 0)))
}

func (m *mlx90614) kelvins(ctx context.Context, address byte) (float64, error) {
	w, err := m.word(ctx, address)
	if err != nil {
		return 0, err
	}
	if w&mlx90614Invalid != 0 {
		return 0, fmt.Errorf("the chip marks its own reading, %#04x, as an error", w)
	}
	return float64(w) * mlx90614Step, nil
}

// word reads a word, the low byte first, and checks the packet error code over
// all that went over the wire.
func (m *mlx90614) word(ctx context.Context, address byte) (uint16, error) {
	var r [3]byte
	if err := m.tx(ctx, []byte{address}, r[:]); err != nil {
		return 0, err
	}
	out, in := byte(m.addr<<1), byte(m.addr<<1|1)
	if packetError([]byte{out, address, in, r[0], r[1]}) != r[2] {
		return 0, errCheckSum
	}
	return uint16(r[0]) | uint16(r[1])<<8, nil
}

func isMLX90614(p part) bool {
	_, err := (&mlx90614{part: p}).word(context.Background(), mlx90614Serial)
	return err == nil
}
