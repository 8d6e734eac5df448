package emulated

import (
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/physic"
)

// part is what the emulated chips have in common: an address, faults, and one
// conversion at a time.
type part struct {
	kind string
	addr uint16
	tx   func(w, r []byte) error // a transaction, with mu held

	mu     sync.Mutex
	faults Faults
	asked  byte      // the first byte written last
	done   time.Time // when the conversion under way ends
}

// Tx runs one transaction with the chip, if addr is its own.
func (p *part) Tx(addr uint16, w, r []byte) error {
	faults := p.currentFaults()
	faults.hold()
	if addr != p.addr || faults.NoAnswer {
		return noAnswer(p.String(), addr)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(w) > 0 {
		p.asked = w[0]
	}
	if err := p.tx(w, r); err != nil {
		return fmt.Errorf("%s: %w", p, err)
	}
	if len(r) > 0 && p.faults.Corrupt != nil {
		p.faults.Corrupt(p.asked, r)
	}
	return nil
}

// SetSpeed accepts every speed.
func (p *part) SetSpeed(physic.Frequency) error { return nil }

// String names the chip.
func (p *part) String() string { return fmt.Sprintf("emulated-%s(%#02x)", p.kind, p.addr) }

// SetFaults replaces the chip's faults.
func (p *part) SetFaults(f Faults) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.faults = f
}

func (p *part) currentFaults() Faults {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.faults
}

// convert begins a conversion. The caller holds mu, as for busy.
func (p *part) convert(takes time.Duration) { p.done = time.Now().Add(takes + p.faults.Slow) }

// busy reports whether the conversion under way goes on.
func (p *part) busy() bool { return p.faults.StuckStatus || time.Now().Before(p.done) }

// refused is a chip that does not acknowledge, because it does not know what it
// is asked or cannot answer yet.
type refused struct{ what string }

func (r refused) Error() string { return "not acknowledged: " + r.what }
