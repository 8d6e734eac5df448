package emulated

import (
	"fmt"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// I2CBus holds several emulated chips, each at its address. As on copper, one
// transaction runs at a time, so a chip that never answers holds up the rest.
type I2CBus struct {
	name string

	wire  chan struct{} // holds something for the length of a transaction
	mu    sync.Mutex    // guards chips
	chips map[uint16]i2c.Bus
}

// NewI2CBus returns a bus with nothing on it. The name is the one it goes by
// in messages, such as "i2c-1".
func NewI2CBus(name string) *I2CBus {
	return &I2CBus{name: name, wire: make(chan struct{}, 1), chips: map[uint16]i2c.Bus{}}
}

// Attach puts a chip at an address, in place of what was there.
func (b *I2CBus) Attach(addr uint16, chip i2c.Bus) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.chips[addr] = chip
}

// Detach takes away what is at an address.
func (b *I2CBus) Detach(addr uint16) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.chips, addr)
}

// Tx runs one transaction with the chip at addr. Where there is none it fails,
// as a bus does that nobody acknowledges.
func (b *I2CBus) Tx(addr uint16, w, r []byte) error {
	b.wire <- struct{}{}
	defer func() { <-b.wire }()
	b.mu.Lock()
	chip := b.chips[addr]
	b.mu.Unlock()
	if chip == nil {
		return noAnswer(b.name, addr)
	}
	return chip.Tx(addr, w, r)
}

// SetSpeed accepts every speed.
func (b *I2CBus) SetSpeed(physic.Frequency) error { return nil }

// String returns the bus's name.
func (b *I2CBus) String() string { return b.name }

func noAnswer(bus string, addr uint16) error {
	return fmt.Errorf("%s: nothing acknowledges address %#02x", bus, addr)
}
