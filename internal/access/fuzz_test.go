package access

import (
	"testing"
	"unicode"
	"unicode/utf8"
)

// A kept hash asks for no more work than one of ours may.
func FuzzParseHash(f *testing.F) {
	f.Add(decoy)
	f.Add("$argon2id$v=19$m=4294967295,t=4294967295,p=255$AAAA$AAAA")
	f.Add("$argon2id$v=19$m=-1,t=0,p=0$$")
	f.Fuzz(func(t *testing.T, kept string) {
		c, salt, key, ok := parseHash(kept)
		if ok && (c.memory < 8 || c.memory > mostMemory || c.passes < 1 || c.passes > mostPasses || c.threads < 1 || c.threads > mostLanes || len(salt) != saltLen || len(key) != keyLen) {
			t.Fatalf("%q asks for %+v", kept, c)
		}
	})
}

// A name that is taken is bounded, can be seen, and is the same name when it is
// given again. So it is for what a stranger gives.
func FuzzPlainName(f *testing.F) {
	for _, name := range []string{" Mona ", "İstanbul", "a\x00b", "\xff", "\u202egnp", "ﬀ", ""} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, given string) {
		if utf8.RuneCountInString(clip(given)) > mostName {
			t.Fatalf("%q is kept as %q", given, clip(given))
		}
		name, err := plainName(given)
		if err != nil {
			return
		}
		for _, r := range name {
			if !unicode.IsGraphic(r) {
				t.Fatalf("%q holds %q", name, r)
			}
		}
		if again, err := plainName(name); err != nil || again != name {
			t.Fatalf("%q is %q at first and %q later, %v", given, name, again, err)
		}
	})
}
