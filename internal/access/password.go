package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"sync"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// Bounds of a password, in characters and in bytes: length is what makes it
// strong (NIST SP 800-63B, section 5.1.1, asks for 8 or more and no rules of
// composition).
const (
	leastPassword = 10
	mostPassword  = 256
)

// cost is how dear a guess is: 19 MiB and two passes, of argon2id's settings
// that the OWASP password storage sheet lists as a minimum. From memory. A
// small Pi takes about a second.
type cost struct {
	memory  uint32 // KiB
	passes  uint32
	threads uint8
}

func usualCost() cost { return cost{memory: 19 * 1024, passes: 2, threads: 1} }

// Bounds of the costs that a kept hash may name, so that a file that was
// tampered with cannot exhaust the machine.
const (
	mostMemory = 256 * 1024
	mostPasses = 10
	mostLanes  = 4
	saltLen    = 16
	keyLen     = 32
)

// hashing lets one password be hashed at a time: each takes 19 MiB.
type hashing struct {
	mu   sync.Mutex
	cost cost
}

func checkPassword(password string) error {
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password):
		return &InputError{"the password", "is not text"}
	case n < leastPassword:
		return &InputError{"the password", fmt.Sprintf("has %d characters: %d or more are needed, such as a few words in a row", n, leastPassword)}
	case len(password) > mostPassword:
		return &InputError{"the password", fmt.Sprintf("is longer than %d bytes", mostPassword)}
	}
	return nil
}

// hash returns what a password is checked against, in the usual form of
// argon2's own tools.
func (h *hashing) hash(password string) string {
	salt := make([]byte, saltLen)
	_, _ = rand.Read(salt) // crypto/rand ends the program rather than fail
	key := h.key(password, salt, h.cost)
	enc := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.cost.memory, h.cost.passes, h.cost.threads, enc.EncodeToString(salt), enc.EncodeToString(key))
}

func (h *hashing) key(password string, salt []byte, c cost) []byte {
	h.mu.Lock()
	defer h.mu.Unlock()
	return argon2.IDKey([]byte(password), salt, c.passes, c.memory, c.threads, keyLen)
}

// matches checks a password against a kept hash, in a time that does not depend
// on where they differ. It is false for a hash that cannot be read.
func (h *hashing) matches(password, kept string) bool {
	c, salt, want, ok := parseHash(kept)
	if !ok || len(password) > mostPassword {
		return false
	}
	return subtle.ConstantTimeCompare(h.key(password, salt, c), want) == 1
}

func parseHash(kept string) (c cost, salt, key []byte, ok bool) {
	parts := strings.Split(kept, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return c, nil, nil, false
	}
	if n, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.memory, &c.passes, &c.threads); n != 3 || err != nil {
		return c, nil, nil, false
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[4])
	key, err2 := base64.RawStdEncoding.DecodeString(parts[5])
	bounded := c.memory >= 8 && c.memory <= mostMemory && c.passes >= 1 && c.passes <= mostPasses && c.threads >= 1 && c.threads <= mostLanes
	return c, salt, key, err1 == nil && err2 == nil && bounded && len(salt) == saltLen && len(key) == keyLen
}
