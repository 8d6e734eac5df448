package kernel

import (
	"math"
	"testing"
)

// What the kernel's files hold comes from chips over long wires: it is a number,
// or refused.
func FuzzFiles(f *testing.F) {
	for _, text := range []string{
		"50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000",
		"ff 07 4b 46 7f ff 0c 10 e9 : crc=e9 YES", "00 00 00 00 00 00 00 00 00 : crc=00 YES", "91 01 4b 46 7f ff 0c 10 d8 : crc=d8 NO",
		"20500", "-1e400", "NaN", "0x50005", "50000", "0x",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if pad, err := parseSlave(text); err == nil {
			if checkSum(pad[:8]) != pad[8] {
				t.Fatalf("%q was read against its check sum", text)
			}
			// A DS18B20 gives sixteen bits of 1/16 K, and none of its sentinels is
			// a temperature.
			if c, err := pad.celsius(); err == nil && (math.Abs(c) > 2048 || c == 127.9375) {
				t.Fatalf("%q is %v °C", text, c)
			}
		}
		if v, err := parseNumber(text); err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Fatalf("%q is %v", text, v)
		}
		if _, err := parseThrottled(text); err == nil && len(text) == 0 {
			t.Fatal("nothing at all was read")
		}
	})
}
