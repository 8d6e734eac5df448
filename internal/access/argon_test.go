package access

import (
	"encoding/hex"
	"testing"

	"golang.org/x/crypto/argon2"
)

// RFC 9106, section 5.3, gives a vector with secret and associated data, which
// the library cannot be given; so this one was made with the reference
// program: `printf password | argon2 somesalt -id -t 2 -m 16 -p 1 -l 32`, which
// its own test suite also holds (version 0x13, 64 MiB). From memory.
func TestTheReferenceProgramsVector(t *testing.T) {
	got := hex.EncodeToString(argon2.IDKey([]byte("password"), []byte("somesalt"), 2, 65536, 1, 32))
	if want := "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
