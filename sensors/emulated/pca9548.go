package emulated

import (
	"fmt"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// PCA9548 is an emulated multiplexer between a bus and eight others.
type PCA9548 struct {
	trunk *I2CBus
	addr  uint16
	ports [8]*I2CBus

	mu      sync.Mutex
	control byte
	faults  Faults
}

// NewPCA9548 returns a multiplexer at addr (0x70 to 0x77), just powered on, with
// the chips of trunk before it and empty buses behind.
func NewPCA9548(trunk *I2CBus, addr uint16) *PCA9548 {
	m := &PCA9548{trunk: trunk, addr: addr}
	for i := range m.ports {
		m.ports[i] = NewI2CBus(fmt.Sprintf("%s port %d", trunk, i))
	}
	return m
}

// Port returns the bus behind port n, to attach chips to.
func (m *PCA9548) Port(n int) *I2CBus { return m.ports[n] }

// BrownOut drops the supply for an instant: no port is let through after it.
func (m *PCA9548) BrownOut() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.control = 0
}

// SetFaults replaces the multiplexer's own faults.
func (m *PCA9548) SetFaults(f Faults) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.faults = f
}

// Tx runs one transaction: with the multiplexer, with a chip before it, or with
// one behind a port that is let through.
func (m *PCA9548) Tx(addr uint16, w, r []byte) error {
	if addr == m.addr {
		return m.own(w, r)
	}
	m.mu.Lock()
	control := m.control
	m.mu.Unlock()
	buses := []i2c.Bus{m.trunk}
	for i, port := range m.ports {
		if control&(1<<i) != 0 {
			buses = append(buses, port)
		}
	}
	var err error
	for _, b := range buses {
		if err = b.Tx(addr, w, r); err == nil {
			return nil
		}
	}
	return err
}

func (m *PCA9548) own(w, r []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.faults.NoAnswer {
		return noAnswer(m.String(), m.addr)
	}
	if len(w) > 0 {
		m.control = w[len(w)-1]
	}
	for i := range r {
		r[i] = m.control
	}
	return nil
}

// SetSpeed accepts every speed.
func (m *PCA9548) SetSpeed(physic.Frequency) error { return nil }

// String returns the name of the bus that the multiplexer is on.
func (m *PCA9548) String() string { return m.trunk.String() }
