package emulated

import (
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"periph.io/x/conn/v3/onewire"

	"recoat/sensors"
)

// Master is an emulated 1-wire bus with its master, down to the memory of its
// DS18B20 probes.
type Master struct {
	mu       sync.Mutex
	probes   map[onewire.Address]*wired
	faults   Faults
	lasting  int // writes to the lasting memory of probes
	selected []onewire.Address
}

// wired is a probe: what it would find, and what its memory holds.
type wired struct {
	probe
	config byte
	pad    [9]byte
	next   [9]byte   // replaces pad once
	until  time.Time // the conversion under way has ended
}

// NewMaster returns a bus with nothing on it.
func NewMaster() *Master { return &Master{probes: map[onewire.Address]*wired{}} }

// Address returns the address of the DS18B20 with this serial number, of 48 bits.
func Address(serial uint64) onewire.Address {
	rom := binary.LittleEndian.AppendUint64(nil, 0x28|serial<<8)
	rom[7] = onewire.CalcCRC(rom[:7])
	return onewire.Address(binary.LittleEndian.Uint64(rom))
}

// Set puts the probe at a temperature, and plugs it in if it is not there. The
// next conversion finds it.
func (m *Master) Set(a onewire.Address, t sensors.Celsius) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at(a).t = t
}

// SetFault gives a probe a fault, which stays until it gets another.
func (m *Master) SetFault(a onewire.Address, fault ProbeFault) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at(a).fault = fault
}

// SetResolution sets a probe to 9 to 12 bits.
func (m *Master) SetResolution(a onewire.Address, bits int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.at(a).config = byte(bits-9)<<5 | 0x1F
}

// SetFaults replaces the faults of the bus.
func (m *Master) SetFaults(f Faults) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.faults = f
}

// LastingWrites counts how often the lasting memory of a probe was written.
func (m *Master) LastingWrites() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.lasting
}

// at returns the probe at an address, just powered on if it was not there.
func (m *Master) at(a onewire.Address) *wired {
	p := m.probes[a]
	if p == nil {
		p = &wired{config: 0x7F}
		p.pad = probe{fault: PowerOn}.scratchpad()
		m.probes[a] = p
	}
	return p
}

// Tx runs one transaction: a reset, the choice of one probe or all, a command.
func (m *Master) Tx(w, r []byte, _ onewire.Pullup) error {
	m.mu.Lock()
	faults := m.faults
	m.mu.Unlock()
	faults.hold()
	m.mu.Lock()
	defer m.mu.Unlock()
	if faults.NoAnswer {
		return errors.New("emulated 1-wire: the bus master does not answer")
	}
	rest, err := m.choose(w)
	if err != nil {
		return err
	}
	if len(rest) > 0 {
		m.obey(rest[0], rest[1:], r)
	}
	if faults.Corrupt != nil && len(r) > 0 {
		faults.Corrupt(rest[0], r)
	}
	return nil
}

func (m *Master) choose(w []byte) (rest []byte, err error) {
	m.selected = nil
	switch {
	case len(w) >= 1 && w[0] == 0xCC:
		m.selected, rest = slices.Collect(maps.Keys(m.probes)), w[1:]
	case len(w) >= 9 && w[0] == 0x55:
		m.selected, rest = []onewire.Address{onewire.Address(binary.LittleEndian.Uint64(w[1:]))}, w[9:]
	default:
		return nil, fmt.Errorf("emulated 1-wire: no probe understands % x", w)
	}
	return rest, nil
}

func (m *Master) obey(cmd byte, data, r []byte) {
	for i := range r {
		r[i] = 0xFF // as the wire reads where nobody holds it
	}
	for _, a := range m.selected {
		p := m.probes[a]
		if p == nil || p.fault == Unplugged {
			continue
		}
		switch cmd {
		case 0x44:
			p.convert(750*time.Millisecond + m.faults.Slow)
		case 0x4E:
			p.config = data[2]
		case 0x48:
			m.lasting++
		case 0xBE:
			copy(r, p.shown(m.faults.StuckStatus))
		}
	}
}

// convert keeps what the probe finds for when the conversion has ended. A probe
// that restarts in the middle of it is left with its power-on value.
func (p *wired) convert(takes time.Duration) {
	p.next = p.scratchpad()
	if p.fault != PowerOn {
		p.next[0] &^= 1<<(3-p.config>>5&3) - 1
	}
	p.until = time.Now().Add(takes)
}

// shown returns the memory as it reads: until a conversion ends, as it was.
func (p *wired) shown(stuck bool) []byte {
	if !stuck && !p.until.IsZero() && !time.Now().Before(p.until) {
		p.pad, p.until = p.next, time.Time{}
	}
	if p.fault == AllZero {
		return make([]byte, len(p.pad))
	}
	pad := p.pad
	pad[4] = p.config
	pad[8] = onewire.CalcCRC(pad[:8])
	if p.fault == BadCRC {
		pad[0] ^= 0x40
	}
	return pad[:]
}

// Search returns the probes that answer.
func (m *Master) Search(bool) ([]onewire.Address, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.faults.NoAnswer {
		return nil, errors.New("emulated 1-wire: the bus master does not answer")
	}
	var all []onewire.Address
	for a, p := range m.probes {
		if p.fault != Unplugged {
			all = append(all, a)
		}
	}
	slices.Sort(all)
	return all, nil
}

// String names the bus.
func (m *Master) String() string { return "emulated 1-wire" }
