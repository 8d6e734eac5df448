//go:build packed

package document

import (
	"bytes"
	"compress/gzip"
	"embed"
	"io"
)

// packedLetters are the same fonts, which the Makefile compresses before it
// builds: half the size in the program, and in memory only while a PDF is made.
//
//go:embed letters/*.ttf.gz
var packedLetters embed.FS

func letters() (plain, bold []byte) {
	return unpacked("letters/DejaVuSans.ttf.gz"), unpacked("letters/DejaVuSans-Bold.ttf.gz")
}

func unpacked(name string) []byte {
	packed, err := packedLetters.ReadFile(name)
	if err == nil {
		var zip *gzip.Reader
		if zip, err = gzip.NewReader(bytes.NewReader(packed)); err == nil {
			var font []byte
			if font, err = io.ReadAll(zip); err == nil {
				return font
			}
		}
	}
	panic("document: " + name + " in the program cannot be read: " + err.Error())
}
