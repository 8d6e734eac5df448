package kernel

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"recoat/sensors"
)

const w1Devices = "sys/bus/w1/devices"

// W1 is one DS18B20 on the kernel's 1-wire bus, a sensors.Source with one
// channel: surface temperature, the probe named by its ROM code.
//
// It reads w1_slave, not the newer file temperature, because only w1_slave shows
// the bytes that tell a temperature from a fault.
type W1 struct {
	Root string // stands for the root of the file system
	ROM  string // such as "28-0316a2791b5f"
}

// DiscoverW1 returns the probes on the bus, in the order of their ROM codes.
// A machine without a 1-wire bus has none.
func DiscoverW1(root string) ([]W1, error) {
	dirs, err := children(filepath.Join(root, w1Devices), "28-")
	if err != nil {
		return nil, fmt.Errorf("look for surface probes: %w", err)
	}
	var probes []W1
	for _, dir := range dirs {
		if rom := filepath.Base(dir); sensors.ValidProbe(rom) {
			probes = append(probes, W1{Root: root, ROM: rom})
		}
	}
	return probes, nil
}

// Name says which probe this is.
func (w W1) Name() string { return "ds18b20 " + w.ROM }

// Channels lists the surface temperature.
func (w W1) Channels() []sensors.Channel {
	return []sensors.Channel{{Quantity: sensors.SurfaceTemperature, Probe: w.ROM}}
}

// Read lets the kernel make a conversion, which takes up to 750 ms.
func (w W1) Read(context.Context) ([]sensors.Reading, error) {
	text, err := readText(filepath.Join(w.Root, w1Devices, w.ROM, "w1_slave"))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", w.Name(), err)
	}
	pad, err := parseSlave(text)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", w.Name(), err)
	}
	t, err := pad.celsius()
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", w.Name(), err)
	}
	return []sensors.Reading{{Channel: w.Channels()[0], Value: t}}, nil
}

// scratchpad is the nine bytes of a DS18B20's memory.
type scratchpad [9]byte

// parseSlave reads the first line of w1_slave, "50 05 4b 46 7f ff 0c 10 1c :
// crc=1c YES". The kernel's verdict must be YES and the bytes must bear it out.
func parseSlave(text string) (scratchpad, error) {
	line, _, _ := strings.Cut(text, "\n")
	bytes, verdict, found := strings.Cut(line, ":")
	raw, err := hex.DecodeString(strings.ReplaceAll(strings.TrimSpace(bytes), " ", ""))
	if !found || err != nil || len(raw) != len(scratchpad{}) {
		return scratchpad{}, fmt.Errorf("w1_slave says %.60q, not nine bytes and their check sum", line)
	}
	if !strings.HasSuffix(strings.TrimSpace(verdict), " YES") || checkSum(raw[:8]) != raw[8] {
		return scratchpad{}, errors.New("the check sum does not fit: the probe's cable or its pull-up resistor")
	}
	return scratchpad(raw), nil
}

// checkSum is the CRC-8 of 1-Wire parts: polynomial x⁸+x⁵+x⁴+1, lowest bit first,
// from zero (Maxim application note 27).
func checkSum(bytes []byte) (sum byte) {
	for _, b := range bytes {
		sum ^= b
		for range 8 {
			carry := sum & 1
			sum = sum>>1 ^ carry*0x8C
		}
	}
	return sum
}

// celsius returns the temperature, and an error for what only looks like one.
func (s scratchpad) celsius() (float64, error) {
	raw := int16(uint16(s[1])<<8 | uint16(s[0]))
	switch {
	case s == scratchpad{}:
		// Zeros carry a check sum of zero, which fits.
		return 0, errors.New("the probe answers with zeros: its data wire is held low")
	case raw == 0x0550 && s[6] == 0x0C:
		return 0, errors.New("the probe shows 85 °C, its power-on value: it restarted and has not measured; check its supply")
	case raw == 0x07FF:
		return 0, errors.New("the probe shows 127.94 °C: it could not measure; check its supply")
	}
	return float64(raw) / 16, nil
}
