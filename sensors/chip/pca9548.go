package chip

import (
	"errors"
	"fmt"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// MuxPorts is how many ports a PCA9548 has.
const MuxPorts = 8

// Mux is a PCA9548, which lets one of eight buses at a time through to the bus it
// is on. Its ports may be used by several goroutines at once; each transaction
// holds the others up.
//
// The driver of periph.io is left aside: it remembers the port it chose last
// even where that failed or the chip has restarted since, and then talks to
// nobody. Here an error makes it choose, and check, anew.
type Mux struct {
	bus  i2c.Bus
	addr uint16

	mu     sync.Mutex
	chosen byte // the control register; valid where known
	known  bool
}

// OpenMux finds a PCA9548 at addr (0x70 to 0x77) and disconnects all its ports.
// The chip has no number that names it: anything that keeps what is written to
// it passes, so the address is for the person who wired it to say.
func OpenMux(bus i2c.Bus, addr uint16) (*Mux, error) {
	m := &Mux{bus: bus, addr: addr}
	if addr < 0x70 || addr > 0x77 {
		return nil, fmt.Errorf("open pca9548 at %s %#02x: its addresses are 0x70 to 0x77", bus, addr)
	}
	if err := m.choose(0); err != nil {
		return nil, fmt.Errorf("open pca9548 at %s %#02x: %w", bus, addr, err)
	}
	return m, nil
}

// Port returns the bus behind port n, 0 to 7.
func (m *Mux) Port(n int) i2c.Bus { return muxPort{m, n} }

// Alone returns the bus that the multiplexer is on, with no port let through for
// the length of each transaction: what answers there is not behind it.
func (m *Mux) Alone() i2c.Bus { return muxPort{m, noPort} }

// noPort is where no port is let through.
const noPort = -1

// choose sets the control register, one bit for each port, and reads it back.
// The caller holds mu, or is the only one to know m.
func (m *Mux) choose(control byte) error {
	if m.known && m.chosen == control {
		return nil
	}
	m.known = false
	if err := m.bus.Tx(m.addr, []byte{control}, nil); err != nil {
		return err
	}
	var got [1]byte
	if err := m.bus.Tx(m.addr, nil, got[:]); err != nil {
		return err
	}
	if got[0] != control {
		return fmt.Errorf("the multiplexer shows %#02x where it was set to %#02x", got[0], control)
	}
	m.chosen, m.known = control, true
	return nil
}

func (m *Mux) tx(port int, addr uint16, w, r []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if addr == m.addr {
		return errors.New("this address is the multiplexer's own")
	}
	control, which := byte(0), "no port"
	if port != noPort {
		control, which = 1<<port, fmt.Sprintf("port %d", port)
	}
	if err := m.choose(control); err != nil {
		return fmt.Errorf("choose %s of the multiplexer: %w", which, err)
	}
	err := m.bus.Tx(addr, w, r)
	if err != nil {
		m.known = false
	}
	return err
}

type muxPort struct {
	mux  *Mux
	port int
}

// Tx runs one transaction behind the port.
func (p muxPort) Tx(addr uint16, w, r []byte) error { return p.mux.tx(p.port, addr, w, r) }

// SetSpeed is refused: the speed is that of the bus the multiplexer is on.
func (p muxPort) SetSpeed(physic.Frequency) error {
	return errors.New("a port of a multiplexer has no speed of its own")
}

// String names the bus and the port, such as "I2C1-0x70-3".
func (p muxPort) String() string {
	if p.port == noPort {
		return p.mux.bus.String()
	}
	return fmt.Sprintf("%s-%#02x-%d", p.mux.bus, p.mux.addr, p.port)
}
