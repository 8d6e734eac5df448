package footprint

import (
	"bytes"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
)

const smapsText = `00400000-010d3000 r-xp 00000000 fe:00 10078563                           /usr/bin/recoat
Size:              13132 kB
Rss:               11980 kB
Anonymous:             0 kB
VmFlags: rd ex mr mw me
010d3000-01d00000 r--p 00cd3000 fe:00 10078563                           /usr/bin/recoat
Rss:               12080 kB
Anonymous:             4 kB
VmFlags: rd mr mw me
01d00000-01f4d000 rw-p 01900000 fe:00 10078563                           /usr/bin/recoat
Anonymous:             0 kB
01f4d000-03f9c000 r--p 00000000 00:00 0 
Anonymous:             0 kB
04000000-04001000 r--p 00000000 fe:00 10078563                           /usr/bin/recoat
Rss:                   4 kB
Anonymous:             0 kB
05000000-05001000 r--p 00000000 fe:00 11                                 /usr/lib/other
Anonymous:             0 kB
06000000-06001000 r--s 00000000 fe:00 10078563                           /usr/bin/recoat
Anonymous:             0 kB
`

// What is written to, shared, another file's, or holds pages of the process's own
// is left alone.
func TestOnlyWhatTheFileStillHoldsIsLetGo(t *testing.T) {
	got, err := readOnly(strings.NewReader(smapsText), "/usr/bin/recoat")
	want := []mapping{{0x400000, 0x10d3000}, {0x4000000, 0x4001000}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%x, %v; want %x", got, err, want)
	}
	if _, err := readOnly(strings.NewReader("0040x000-010d3000 r-xp 00000000 fe:00 1 /usr/bin/recoat\n"), "/usr/bin/recoat"); err == nil {
		t.Error("a broken address was read")
	}
}

// The kernel's own text of this very process is understood, and what was let go
// of is there again when it is used.
func TestTheProgramGoesOn(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux tells a process what it has mapped")
	}
	exe, err := os.Readlink("/proc/self/exe")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		t.Fatal(err)
	}
	found, err := readOnly(bytes.NewReader(text), exe)
	if err != nil || len(found) < 2 {
		t.Fatalf("found %x, %v: want at least text and constants", found, err)
	}
	for range 3 {
		if err := ReleaseProgram(); err != nil {
			t.Fatal(err)
		}
		if got := strings.ToUpper(smapsText[:8]); got != "00400000" {
			t.Fatalf("a constant is now %q", got)
		}
	}
}

func FuzzReadOnly(f *testing.F) {
	f.Add(smapsText, "/usr/bin/recoat")
	f.Add("a-b r--p 0 0 0 x\nAnonymous: 0 kB\n", "x")
	f.Fuzz(func(t *testing.T, text, file string) {
		found, _ := readOnly(strings.NewReader(text), file)
		for _, m := range found {
			if m.to < m.from {
				t.Errorf("%x ends before it begins", m)
			}
		}
	})
}
