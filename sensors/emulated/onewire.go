package emulated

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"periph.io/x/conn/v3/onewire"

	"recoat/sensors"
)

// ProbeFault is what is wrong with a surface probe.
type ProbeFault uint8

// The faults of a probe.
const (
	NoFault    ProbeFault = iota
	BadCRC                // the bytes were garbled on the wire
	PowerOn               // the probe restarted and has converted nothing: 85 °C
	NotReady              // the file is empty while a conversion runs
	AllZero               // the wire is held low: nine zero bytes, which carry a valid check sum
	Overranged            // the register is full: 127.9375 °C
	Unplugged             // the probe is gone from the bus
)

// OneWire plays the folder in which Linux shows DS18B20 probes. Root stands for
// the root of the file system: the probes are below sys/bus/w1/devices.
type OneWire struct {
	Root string

	mu     sync.Mutex
	probes map[string]probe
}

type probe struct {
	t     sensors.Celsius
	fault ProbeFault
}

// Set puts the probe with this ROM code, such as "28-0316a2791b5f", at a
// temperature, and plugs it in if there was none of the name. The probe rounds
// to 1/16 °C and ends at -55 and 125 °C.
func (w *OneWire) Set(rom string, t sensors.Celsius) error {
	return w.change(rom, func(p *probe) { p.t = t })
}

// SetFault gives a probe a fault, which stays until it gets another. NoFault
// mends it.
func (w *OneWire) SetFault(rom string, fault ProbeFault) error {
	return w.change(rom, func(p *probe) { p.fault = fault })
}

func (w *OneWire) change(rom string, alter func(*probe)) error {
	if rom == "" || rom != filepath.Base(rom) || strings.HasPrefix(rom, ".") {
		return fmt.Errorf("emulate probe %q: want a name such as 28-0316a2791b5f", rom)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.probes == nil {
		w.probes = map[string]probe{}
	}
	p := w.probes[rom]
	alter(&p)
	w.probes[rom] = p
	if err := p.show(filepath.Join(w.Root, "sys/bus/w1/devices", rom)); err != nil {
		return fmt.Errorf("emulate probe %s: %w", rom, err)
	}
	return nil
}

// show writes what the kernel would, whole: a reader sees the file before or
// after, never between.
func (p probe) show(dir string) error {
	if p.fault == Unplugged {
		return os.RemoveAll(dir)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	part := filepath.Join(dir, ".w1_slave")
	if err := os.WriteFile(part, []byte(p.text()), 0o644); err != nil {
		return err
	}
	return os.Rename(part, filepath.Join(dir, "w1_slave"))
}

// text is the content of w1_slave: the scratchpad twice, first with the verdict
// on its check sum, then with the temperature.
func (p probe) text() string {
	if p.fault == NotReady {
		return ""
	}
	pad := p.scratchpad()
	verdict := "YES"
	if p.fault == BadCRC {
		pad[4] ^= 0x40
		verdict = "NO"
	}
	raw := int16(uint16(pad[1])<<8 | uint16(pad[0]))
	return fmt.Sprintf("% x : crc=%02x %s\n% x t=%d\n", pad, pad[8], verdict, pad, int64(raw)*1000/16)
}

// scratchpad returns the nine bytes of the probe's memory. Byte 6 is 0x0C after
// a restart and 0x10 less the sixteenths after a conversion, as captures show.
func (p probe) scratchpad() [9]byte {
	var pad [9]byte
	if p.fault == AllZero {
		return pad
	}
	raw := int16(math.Round(min(max(float64(p.t), -55), 125) * 16))
	left := 0x10 - byte(raw&0xF)
	switch p.fault {
	case PowerOn:
		raw, left = 0x0550, 0x0C
	case Overranged:
		raw, left = 0x07FF, 0x0C
	}
	pad = [9]byte{byte(raw), byte(raw >> 8), 0x4B, 0x46, 0x7F, 0xFF, left, 0x10}
	pad[8] = onewire.CalcCRC(pad[:8])
	return pad
}
