package document

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	_ "image/jpeg" // so that a photo's size can be read
	_ "image/png"
	"io"
)

// mostPixels bounds a photo that is taken into a document.
const mostPixels = 40_000_000

// usable returns a photo that is what its name says, in a format that documents
// take; nil for any other.
func usable(photos Photos, sum string) (io.Reader, string) {
	if photos == nil {
		return nil, ""
	}
	raw := photos(sum)
	if got := sha256.Sum256(raw); raw == nil || hex.EncodeToString(got[:]) != sum {
		return nil, ""
	}
	cfg, format, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil || cfg.Width < 1 || cfg.Height < 1 || cfg.Width*cfg.Height > mostPixels || format != "jpeg" && format != "png" {
		return nil, ""
	}
	return bytes.NewReader(raw), format
}
