package chip

import (
	"context"
	"errors"

	"periph.io/x/conn/v3/i2c"
)

// maxPolls is how often the driver may find the chip measuring before the read
// fails. A conversion ends about 2 ms after the driver begins to ask, and a
// question takes 0.1 ms on the fastest bus.
const maxPolls = 200

// tap stands between the driver and the bus. It keeps the raw bytes the driver
// turns into values, and ends the driver's wait for the end of a conversion,
// which has no limit of its own.
type tap struct {
	i2c.Bus
	addr uint16

	ctx   context.Context // of the read under way; the driver hands none on
	polls int
	data  burst
}

// begin prepares for the transactions of one read.
func (t *tap) begin(ctx context.Context) { t.ctx, t.polls, t.data = ctx, 0, burst{} }

// Tx passes a transaction on.
func (t *tap) Tx(addr uint16, w, r []byte) error {
	if err := t.ctx.Err(); err != nil {
		return err
	}
	if err := t.Bus.Tx(addr, w, r); err != nil {
		return err
	}
	if len(w) != 1 || len(r) == 0 {
		return nil
	}
	switch w[0] {
	case regData:
		copy(t.data[:], r)
	case regStatus:
		return t.poll(r[0])
	}
	return nil
}

func (t *tap) poll(status byte) error {
	if status&statusMeasuring == 0 {
		return nil
	}
	if t.polls++; t.polls >= maxPolls {
		return errors.New("the measurement does not end")
	}
	return nil
}

func (t *tap) register(reg byte) (byte, error) {
	var v [1]byte
	err := t.Tx(t.addr, []byte{reg}, v[:])
	return v[0], err
}

// burst is the data registers 0xF7 to 0xFE, read in one go.
type burst [8]byte

// raws are the numbers of the chip's converters.
type raws struct{ t, p, h int32 }

func (b burst) raw() (raws, error) {
	r := raws{
		p: int32(b[0])<<12 | int32(b[1])<<4 | int32(b[2])>>4,
		t: int32(b[3])<<12 | int32(b[4])<<4 | int32(b[5])>>4,
		h: int32(b[6])<<8 | int32(b[7]),
	}
	switch {
	case b == burst{} || b == burst{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}:
		return raws{}, errors.New("every data register reads the same: nothing drives the bus")
	case r.t == 0x80000 || r.p == 0x80000 || r.h == 0x8000:
		return raws{}, errSkipped
	}
	return r, nil
}
