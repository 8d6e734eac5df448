package emulated

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"recoat/sensors"
)

const rom = "28-0316a2791b5f"

func slave(t *testing.T, root string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, "sys/bus/w1/devices", rom, "w1_slave"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The register values are those of the DS18B20 datasheet's table of temperature
// and data (from memory).
func TestProbeHoldsTheDatasheetsRegisterValues(t *testing.T) {
	table := map[sensors.Celsius]string{
		125: "d0 07", 85: "50 05", 25.0625: "91 01", 10.125: "a2 00", 0.5: "08 00", 0: "00 00",
		-0.5: "f8 ff", -10.125: "5e ff", -25.0625: "6f fe", -55: "90 fc",
		200: "d0 07", -90: "90 fc", 20.04: "41 01",
	}
	w := &OneWire{Root: t.TempDir()}
	for at, want := range table {
		if err := w.Set(rom, at); err != nil {
			t.Fatal(err)
		}
		if got := slave(t, w.Root); got[:5] != want {
			t.Errorf("%v °C: the pad begins %s, want %s", at, got[:5], want)
		}
	}
}

// Both pads, check sums included, are captures of real probes that people have
// published with their questions.
func TestProbeShowsWhatRealOnesShow(t *testing.T) {
	table := map[sensors.Celsius]string{
		23:      "70 01 4b 46 7f ff 10 10 e1 : crc=e1 YES\n70 01 4b 46 7f ff 10 10 e1 t=23000\n",
		20.6875: "4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n",
	}
	w := &OneWire{Root: t.TempDir()}
	for at, want := range table {
		if err := w.Set(rom, at); err != nil {
			t.Fatal(err)
		}
		if got := slave(t, w.Root); got != want {
			t.Errorf("%v °C shows as\n%q, want\n%q", at, got, want)
		}
	}
}

// The power-on pad is a published capture too; its byte 6 of 0x0C is what Linux's
// Documentation/w1/slaves/w1_therm.rst tells it by.
func TestFaultsShowAsTheKernelShowsThem(t *testing.T) {
	table := []struct {
		fault ProbeFault
		want  string
	}{
		{PowerOn, "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n"},
		{AllZero, "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n"},
		{NotReady, ""},
	}
	w := &OneWire{Root: t.TempDir()}
	for _, c := range table {
		if err := w.SetFault(rom, c.fault); err != nil {
			t.Fatal(err)
		}
		if err := w.Set(rom, 20); err != nil { // the fault outlasts it
			t.Fatal(err)
		}
		if got := slave(t, w.Root); got != c.want {
			t.Errorf("fault %d shows as\n%q, want\n%q", c.fault, got, c.want)
		}
	}
}

func TestAnUnpluggedProbeLeavesNoFolder(t *testing.T) {
	w := &OneWire{Root: t.TempDir()}
	if err := w.Set(rom, 20); err != nil {
		t.Fatal(err)
	}
	if err := w.SetFault(rom, Unplugged); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(w.Root, "sys/bus/w1/devices", rom)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("its folder is still there: %v", err)
	}
}

func TestProbeNamesStayInTheirFolder(t *testing.T) {
	w := &OneWire{Root: t.TempDir()}
	for _, name := range []string{"", ".", "..", "../28-1", "a/b"} {
		if err := w.Set(name, 20); err == nil {
			t.Errorf("%q is taken for a probe", name)
		}
	}
}
