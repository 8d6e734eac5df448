package chip

import (
	"context"
	"encoding/binary"
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// part is a chip's place on a bus.
type part struct {
	bus  i2c.Bus
	addr uint16
}

// tx runs one transaction unless ctx has ended.
func (p part) tx(ctx context.Context, w, r []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return p.bus.Tx(p.addr, w, r)
}

// register reads a register of 16 bits, the high byte first.
func (p part) register(ctx context.Context, reg byte) (uint16, error) {
	var r [2]byte
	err := p.tx(ctx, []byte{reg}, r[:])
	return binary.BigEndian.Uint16(r[:]), err
}

// setRegister writes a register of 16 bits.
func (p part) setRegister(ctx context.Context, reg byte, v uint16) error {
	return p.tx(ctx, []byte{reg, byte(v >> 8), byte(v)}, nil)
}

// command sends a command of 16 bits.
func (p part) command(ctx context.Context, cmd uint16) error {
	return p.tx(ctx, []byte{byte(cmd >> 8), byte(cmd)}, nil)
}

// ask sends a command of 16 bits and reads its answer in the same transaction.
func (p part) ask(ctx context.Context, cmd uint16, words []uint16) error {
	r := make([]byte, 3*len(words))
	if err := p.tx(ctx, []byte{byte(cmd >> 8), byte(cmd)}, r); err != nil {
		return err
	}
	return checkedWords(r, words)
}

// fetch reads the answer to an earlier command.
func (p part) fetch(ctx context.Context, words []uint16) error {
	r := make([]byte, 3*len(words))
	if err := p.tx(ctx, nil, r); err != nil {
		return err
	}
	return checkedWords(r, words)
}

// errCheckSum says that the bytes read are not those the chip sent.
var errCheckSum = errors.New("the check sum does not fit: the wires are too long or loose, or two chips answer at once")

// checkedWords takes words of 16 bits, each with its check sum, out of bytes.
// The sum of a wire held low or high fits neither word.
func checkedWords(bytes []byte, words []uint16) error {
	for i := range words {
		b := bytes[3*i:]
		if checkWord(b[:2]) != b[2] {
			return errCheckSum
		}
		words[i] = binary.BigEndian.Uint16(b)
	}
	return nil
}

// checkWord is the check sum of the chips that send words: CRC-8 with polynomial
// x⁸+x⁵+x⁴+1 from 0xFF (Sensirion SHT3x-DIS datasheet, table 20).
func checkWord(bytes []byte) byte { return crc8(0x31, 0xFF, bytes) }

// packetError is the packet error code of SMBus 3.1, section 6.4.1: CRC-8 with
// polynomial x⁸+x²+x+1 from 0.
func packetError(bytes []byte) byte { return crc8(0x07, 0, bytes) }

// crc8 takes the highest bit first.
func crc8(polynomial, sum byte, bytes []byte) byte {
	for _, b := range bytes {
		sum ^= b
		for range 8 {
			carry := sum >> 7
			sum = sum<<1 ^ carry*polynomial
		}
	}
	return sum
}

// wait lets d pass, less if ctx ends.
func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// turn is had by one at a time. Who waits for it, as behind a bus that hangs,
// gives up when its context ends.
type turn chan struct{}

func newTurn() turn { return make(turn, 1) }

func (t turn) take(ctx context.Context) error {
	select {
	case t <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (t turn) give() { <-t }
