package chip

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/onewire"
)

// The commands of 1-Wire (Maxim DS18B20 datasheet, "DS18B20 ROM commands" and
// "function commands").
const (
	wireSkipROM = 0xCC
	wireConvert = 0x44
	wireReadPad = 0xBE

	wireConversion = 760 * time.Millisecond // 750 at the finest resolution
)

// OneWire is a 1-wire bus behind a bus master. Its probes convert together, so
// that a read of all of them takes no longer than of one.
type OneWire struct {
	open func() (onewire.Bus, error)

	turn  turn // held for the length of a conversion and a transaction; guards the rest
	bus   onewire.Bus
	ended time.Time // of the last conversion
}

// NewOneWire returns a bus that open starts, first and after every error: some
// bus masters answer with the error of long ago until they are started again.
func NewOneWire(open func() (onewire.Bus, error)) *OneWire {
	return &OneWire{open: open, turn: newTurn()}
}

// Search returns the probes on the bus whose ROM codes are those of a DS18B20.
func (w *OneWire) Search(ctx context.Context) ([]onewire.Address, error) {
	if err := w.turn.take(ctx); err != nil {
		return nil, fmt.Errorf("look for surface probes: %w", err)
	}
	defer w.turn.give()
	if err := w.start(); err != nil {
		return nil, fmt.Errorf("look for surface probes: %w", err)
	}
	all, err := w.bus.Search(false)
	if err != nil {
		w.bus = nil
		return nil, fmt.Errorf("look for surface probes: %w", err)
	}
	var probes []onewire.Address
	for _, a := range all {
		if checkROM(a) == nil {
			probes = append(probes, a)
		}
	}
	return probes, nil
}

// pad returns a probe's memory after a conversion that ended no earlier than
// this was called.
func (w *OneWire) pad(ctx context.Context, probe onewire.Address) (pad [9]byte, err error) {
	asked := time.Now()
	if err := w.turn.take(ctx); err != nil {
		return pad, err
	}
	defer w.turn.give()
	if err := w.convert(ctx, asked); err != nil {
		return pad, err
	}
	d := onewire.Dev{Bus: w.bus, Addr: probe}
	if err := d.Tx([]byte{wireReadPad}, pad[:]); err != nil {
		w.bus = nil
		return pad, err
	}
	return pad, nil
}

// convert lets all probes convert, unless they have since asked. The strong
// pull-up feeds probes that have no supply of their own.
func (w *OneWire) convert(ctx context.Context, asked time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := w.start(); err != nil {
		return err
	}
	if w.ended.After(asked) {
		return nil
	}
	if err := w.bus.Tx([]byte{wireSkipROM, wireConvert}, nil, onewire.StrongPullup); err != nil {
		w.bus = nil
		return err
	}
	if err := wait(ctx, wireConversion); err != nil {
		return err
	}
	w.ended = time.Now()
	return nil
}

func (w *OneWire) start() (err error) {
	if w.bus == nil {
		w.ended = time.Time{}
		w.bus, err = w.open()
	}
	return err
}

// errROM says that an address is not a DS18B20's, or was garbled on the wire.
var errROM = errors.New("its code is not that of a DS18B20")

// checkROM: family 0x28 in the lowest byte, a check sum over the rest in the
// highest (DS18B20 datasheet, "64-bit lasered ROM code").
func checkROM(a onewire.Address) error {
	var rom [8]byte
	for i := range rom {
		rom[i] = byte(a >> (8 * i))
	}
	if rom[0] != 0x28 || !onewire.CheckCRC(rom[:]) {
		return errROM
	}
	return nil
}
