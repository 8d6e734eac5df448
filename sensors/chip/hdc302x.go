package chip

import (
	"context"
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/hdc302x"

	"recoat/sensors"
)

const (
	hdc302xMaker   = 0x3781
	hdc302xMakerID = 0x3000
	hdc302xStop    = 0x3093
	hdc302xRate    = hdc302x.RateTwoHertz // faster than any round: a read between two measurements is refused
)

type hdc302xChip struct {
	part
	dev *hdc302x.Dev
}

// OpenHDC302x finds an HDC3020, HDC3021 or HDC3022 at addr (0x44 to 0x47) and
// lets it measure twice a second, which takes half a second to begin. It gives
// air temperature and humidity, held while the heater is on.
//
// The driver of periph.io starts the chip's measuring only when it is made: a
// chip that restarts stands idle from then on. So the status is read with every
// measurement, and a restart is an error, after which the chip is opened anew.
func OpenHDC302x(bus i2c.Bus, addr uint16, where string) (*Chip, error) {
	h := &hdc302xChip{part: part{bus, addr}}
	name := Name("hdc302x", where, addr)
	if err := h.open(context.Background()); err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	return &Chip{name: name, channels: airChannels(), measure: h.measure}, nil
}

func (h *hdc302xChip) open(ctx context.Context) error {
	if err := identifyHDC302x(ctx, h.part); err != nil {
		return err
	}
	// It may still be measuring for a run before this one, and then takes no
	// other rate.
	if err := h.command(ctx, hdc302xStop); err != nil {
		return err
	}
	dev, err := hdc302x.NewI2C(h.bus, h.addr, hdc302xRate)
	if err != nil {
		return err
	}
	h.dev = dev
	_, err = dev.ReadStatus() // and so clears it
	return err
}

func (h *hdc302xChip) measure(ctx context.Context) (measured, error) {
	if err := identifyHDC302x(ctx, h.part); err != nil {
		return measured{}, err
	}
	var env physic.Env
	if err := h.dev.Sense(&env); err != nil {
		return measured{}, err
	}
	status, err := h.dev.ReadStatus()
	if err != nil {
		return measured{}, err
	}
	quality := sensors.Good
	switch {
	case status&hdc302x.StatusDeviceReset != 0:
		return measured{}, errors.New("the chip has restarted: its supply dipped")
	case status&hdc302x.StatusHeaterEnabled != 0:
		quality = sensors.Held
	}
	values := []float64{celsius(env.Temperature), float64(env.Humidity) / float64(physic.PercentRH)}
	if values[0] == wordCelsius(0) && values[1] == 0 {
		return measured{}, errNotMeasured
	}
	return measured{values, quality}, nil
}

// identifyHDC302x asks for the maker, which the SHT3x at the same addresses has
// no answer to (TI SNAS778, table 7-4; the number is in the tests of periph.io's
// driver, recorded from a chip).
func identifyHDC302x(ctx context.Context, p part) error {
	var id [1]uint16
	if err := p.ask(ctx, hdc302xMaker, id[:]); err != nil {
		return err
	}
	if id[0] != hdc302xMakerID {
		return fmt.Errorf("the chip's maker is %#04x, an HDC302x says %#04x", id[0], hdc302xMakerID)
	}
	return nil
}

func isHDC302x(p part) bool { return identifyHDC302x(context.Background(), p) == nil }
