package mix

import "testing"

// A share is above nothing, takes bounded room, and is written as it is read.
func FuzzParseShare(f *testing.F) {
	for _, s := range []string{"3", "1.5", "3/2", " 0.000000001 ", "1e999999999", "0x1p-9999", "1/0", "999999999999999999/999999999999999999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := ParseShare(s)
		if err != nil {
			return
		}
		if x.Sign() <= 0 || x.Num().BitLen() > 64 || x.Denom().BitLen() > 64 {
			t.Fatalf("%q is %s", s, x)
		}
		if again, err := ParseShare(x.RatString()); err != nil || again.Cmp(x) != 0 {
			t.Fatalf("%q is %s, which is read as %v, %v", s, x.RatString(), again, err)
		}
	})
}
