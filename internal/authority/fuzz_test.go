package authority

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Whatever stands in its two files, an authority is one that may sign and whose
// key is its certificate's, or it is refused.
func FuzzParsePair(f *testing.F) {
	folder := f.TempDir()
	if _, err := Open(folder, time.Now); err != nil {
		f.Fatal(err)
	}
	read := func(name string) []byte {
		text, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			f.Fatal(err)
		}
		return text
	}
	f.Add(read(certFile), read(keyFile))
	f.Add(read(keyFile), read(certFile))
	f.Add(read(certFile)[:200], read(keyFile))
	f.Fuzz(func(t *testing.T, cert, key []byte) {
		c, private, err := parsePair(cert, key)
		if err != nil {
			return
		}
		if !c.IsCA || !private.PublicKey.Equal(c.PublicKey) {
			t.Fatalf("taken for an authority: %v", c.Subject)
		}
	})
}
