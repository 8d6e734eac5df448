package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/mcp9808"

	"recoat/sensors"
)

// The registers of an MCP9808 that are read beside the driver (Microchip
// DS20005095, tables 5-1 and 5-5).
const (
	mcp9808Config      = 0x01
	mcp9808Temperature = 0x05
	mcp9808Maker       = 0x06
	mcp9808Device      = 0x07

	mcp9808MakerID    = 0x0054
	mcp9808DeviceID   = 0x04
	mcp9808Shutdown   = 1 << 8
	mcp9808Flags      = 0xE000 // at or above critical, above upper, below lower limit
	mcp9808Conversion = 300 * time.Millisecond
)

type mcp9808Chip struct {
	part
	dev *mcp9808.Dev
	raw uint16 // the register that the driver read last
}

// OpenMCP9808 finds an MCP9808 at addr (0x18 to 0x1F) and waits for its first
// conversion, a third of a second. It gives the temperature of the surface that
// it lies on.
//
// The driver of periph.io checks neither the maker nor what the register held:
// it takes the value from before the first conversion for 0 °C and the bytes of
// a dead wire for 0 or -0.06 °C. So the register is looked at as well.
func OpenMCP9808(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	m := &mcp9808Chip{part: part{bus, addr}}
	name := Name("mcp9808", where, addr)
	if err := m.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: surfaceChannel(), measure: m.measure}, nil
}

func (m *mcp9808Chip) open(ctx context.Context) error {
	if err := identifyMCP9808(ctx, m.part); err != nil {
		return err
	}
	dev, err := mcp9808.New(overheard{m.bus, m.hear}, &mcp9808.Opts{Addr: int(m.addr), Res: mcp9808.Maximum})
	if err != nil {
		return err
	}
	m.dev = dev
	return wait(ctx, mcp9808Conversion)
}

func (m *mcp9808Chip) hear(w, r []byte) {
	if len(w) == 1 && w[0] == mcp9808Temperature && len(r) == 2 {
		m.raw = uint16(r[0])<<8 | uint16(r[1])
	}
}

func (m *mcp9808Chip) measure(ctx context.Context) (measured, error) {
	if err := identifyMCP9808(ctx, m.part); err != nil {
		return measured{}, err
	}
	config, err := m.register(ctx, mcp9808Config)
	if err != nil {
		return measured{}, err
	}
	if config&mcp9808Shutdown != 0 {
		return measured{}, errors.New("the chip is shut down: it shows an old temperature")
	}
	var env physic.Env
	if err := m.dev.Sense(&env); err != nil {
		return measured{}, err
	}
	if err := meantByMCP9808(m.raw); err != nil {
		return measured{}, err
	}
	return measured{[]float64{celsius(env.Temperature)}, sensors.Good}, nil
}

// meantByMCP9808 tells a conversion from what is none. The limits are 0 °C unless
// somebody set them, and a converted 0 °C is at the critical one, which its flag
// then says. No temperature is both above the upper limit and below the lower.
func meantByMCP9808(raw uint16) error {
	switch {
	case raw == 0:
		return errors.New("the register is as after power-on: the chip restarted and has not measured")
	case raw&mcp9808Flags == mcp9808Flags:
		return errors.New("the register contradicts itself: nothing drives the bus")
	}
	return nil
}

func identifyMCP9808(ctx context.Context, p part) error {
	maker, err := p.register(ctx, mcp9808Maker)
	if err != nil {
		return err
	}
	device, err := p.register(ctx, mcp9808Device)
	if err != nil {
		return err
	}
	if maker != mcp9808MakerID || device>>8 != mcp9808DeviceID {
		return fmt.Errorf("the chip calls itself %#04x %#04x, an MCP9808 says %#04x %#02x and a revision", maker, device, mcp9808MakerID, mcp9808DeviceID)
	}
	return nil
}

func isMCP9808(p part) bool { return identifyMCP9808(context.Background(), p) == nil }

// overheard is a bus whose transactions somebody else hears too.
type overheard struct {
	i2c.Bus
	hear func(w, r []byte)
}

// Tx passes a transaction on, and tells of it if it came to pass.
func (o overheard) Tx(addr uint16, w, r []byte) error {
	err := o.Bus.Tx(addr, w, r)
	if err == nil {
		o.hear(w, r)
	}
	return err
}
