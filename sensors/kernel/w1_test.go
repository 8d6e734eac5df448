package kernel

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"periph.io/x/conn/v3/onewire"
	"periph.io/x/conn/v3/onewire/onewiretest"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/ds18b20"

	"recoat/sensors"
	"recoat/sensors/emulated"
)

const rom = "28-0316a2791b5f"

var powerOn = scratchpad{0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C}

// The DS18B20 datasheet's table of register and temperature (from memory). 85 °C
// is true here: byte 6 shows a conversion.
func TestScratchpadConversion(t *testing.T) {
	table := []struct {
		raw  uint16
		want float64
	}{
		{0x07D0, 125}, {0x0550, 85}, {0x0191, 25.0625}, {0x00A2, 10.125}, {0x0008, 0.5},
		{0x0000, 0}, {0xFFF8, -0.5}, {0xFF5E, -10.125}, {0xFE6F, -25.0625}, {0xFC90, -55},
	}
	for _, c := range table {
		pad := scratchpad{byte(c.raw), byte(c.raw >> 8), 0x4B, 0x46, 0x7F, 0xFF, 0x10, 0x10}
		if got, err := pad.celsius(); err != nil || got != c.want {
			t.Errorf("%#04x: %v, %v, want %v", c.raw, got, err, c.want)
		}
	}
}

// bare returns what the driver of periph.io makes of a scratchpad.
func bare(t *testing.T, pad scratchpad) (float64, error) {
	t.Helper()
	const address = 0x740000070e41ac28
	ask := append([]byte{0x55}, 0x28, 0xac, 0x41, 0x0e, 0x07, 0, 0, 0x74, 0xbe)
	bus := &onewiretest.Playback{DontPanic: true, Ops: []onewiretest.IO{
		{W: ask, R: pad[:], Pull: onewire.WeakPullup},
		{W: ask, R: pad[:], Pull: onewire.WeakPullup},
	}}
	dev, err := ds18b20.New(bus, address, 9+int(pad[4]>>5))
	if err != nil {
		t.Fatal(err)
	}
	k, err := dev.LastTemp()
	return float64(k-physic.ZeroCelsius) / float64(physic.Kelvin), err
}

func TestPadsTheBareDriverTakesForTemperaturesAreRefused(t *testing.T) {
	full := scratchpad{0xFF, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10}
	full[8] = onewire.CalcCRC(full[:8])
	table := []struct {
		name string
		pad  scratchpad
		bare float64
	}{
		{"power-on", powerOn, 85},
		{"all zero", scratchpad{}, 0},
		{"full", full, 127.9375},
	}
	for _, c := range table {
		if got, err := bare(t, c.pad); err != nil || got != c.bare {
			t.Errorf("%s: the bare driver says %v, %v; this check expects it to say %v", c.name, got, err, c.bare)
		}
		if got, err := c.pad.celsius(); err == nil {
			t.Errorf("%s: taken for %v °C", c.name, got)
		}
	}
}

// The library of periph.io and a ROM code from its tests are the check.
func TestCheckSum(t *testing.T) {
	if got := checkSum([]byte{0x28, 0xAC, 0x41, 0x0E, 0x07, 0x00, 0x00}); got != 0x74 {
		t.Errorf("the ROM code's check sum is %#02x, want 0x74", got)
	}
	random := rand.New(rand.NewPCG(1, 2))
	for range 1000 {
		bytes := make([]byte, random.IntN(12))
		for i := range bytes {
			bytes[i] = byte(random.Uint32())
		}
		if got, want := checkSum(bytes), onewire.CalcCRC(bytes); got != want {
			t.Fatalf("% x: %#02x, want %#02x", bytes, got, want)
		}
	}
}

func TestParseSlaveIsStrict(t *testing.T) {
	refused := []string{
		"70 01 4b 46 7f ff 10 10 e1 : crc=e1 NO\n70 01 4b 46 7f ff 10 10 e1 t=23000",
		"71 01 4b 46 7f ff 10 10 e1 : crc=e1 YES", // a bit flipped, whatever the kernel says
		"70 01 4b 46 7f ff 10 10 : crc=e1 YES",
		"70 01 4b 46 7f ff 10 10 e1 00 : crc=e1 YES",
		"70 01 4b 46 7f ff 10 10 e1",
		"zz 01 4b 46 7f ff 10 10 e1 : crc=e1 YES",
		"", "YES", ":",
	}
	for _, text := range refused {
		if pad, err := parseSlave(text); err == nil {
			t.Errorf("%q is taken for % x", text, pad)
		}
	}
	pad, err := parseSlave("70 01 4b 46 7f ff 10 10 e1 : crc=e1 YES\n70 01 4b 46 7f ff 10 10 e1 t=23000")
	if got, _ := pad.celsius(); err != nil || got != 23 {
		t.Errorf("a good pad gives %v, %v", got, err)
	}
}

func TestProbeOnTheEmulatedBus(t *testing.T) {
	wire := &emulated.OneWire{Root: t.TempDir()}
	probe := W1{Root: wire.Root, ROM: rom}
	for _, at := range []sensors.Celsius{-10.0625, -0.0625, 0, 0.5, 12.3125, 85.0625} {
		if err := wire.Set(rom, at); err != nil {
			t.Fatal(err)
		}
		got, err := probe.Read(t.Context())
		if err != nil || len(got) != 1 || got[0].Value != float64(at) || got[0].Channel.String() != "surface-temperature:"+rom {
			t.Errorf("at %v °C: %v, %v", at, got, err)
		}
	}
}

func TestEveryFaultOfAProbeIsAnErrorThatSaysWhat(t *testing.T) {
	table := []struct {
		fault emulated.ProbeFault
		says  string
	}{
		{emulated.BadCRC, "check sum"},
		{emulated.PowerOn, "power-on value"},
		{emulated.NotReady, "empty"},
		{emulated.AllZero, "zeros"},
		{emulated.Overranged, "127.94"},
		{emulated.Unplugged, "no such file"},
	}
	wire := &emulated.OneWire{Root: t.TempDir()}
	probe := W1{Root: wire.Root, ROM: rom}
	for _, c := range table {
		if err := wire.Set(rom, 21); err != nil {
			t.Fatal(err)
		}
		if err := wire.SetFault(rom, c.fault); err != nil {
			t.Fatal(err)
		}
		got, err := probe.Read(t.Context())
		if err == nil || got != nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), rom) {
			t.Errorf("fault %d: %v, %v; want an error on %q", c.fault, got, err, c.says)
		}
		if err := wire.SetFault(rom, emulated.NoFault); err != nil {
			t.Fatal(err)
		}
		if _, err := probe.Read(t.Context()); err != nil {
			t.Errorf("fault %d: still there when mended: %v", c.fault, err)
		}
	}
}

func TestAFileThatCannotBeReadIsAnError(t *testing.T) {
	root := t.TempDir()
	// Reading a directory fails, as a file of the kernel's does on a bus error.
	if err := os.MkdirAll(filepath.Join(root, w1Devices, rom, "w1_slave"), 0o755); err != nil {
		t.Fatal(err)
	}
	if got, err := (W1{Root: root, ROM: rom}).Read(t.Context()); err == nil {
		t.Errorf("read %v from a directory", got)
	}
}
