package document

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/jpeg"
	_ "image/png" // photos may be of this kind too

	"golang.org/x/image/draw"
)

// The bounds of a photo that is taken into a document, and how large it is
// there.
const (
	mostPixels = 64 << 20
	longEdge   = 1400
	quality    = 80
)

// usable returns a photo as a JPEG for a document, smaller, and without what the
// camera wrote beside it, such as the place; nil for one that is not there or not
// what its name says.
func usable(photos Photos, sum string) []byte {
	if photos == nil || sum == "" {
		return nil
	}
	raw := photos(sum)
	if got := sha256.Sum256(raw); raw == nil || hex.EncodeToString(got[:]) != sum {
		return nil
	}
	return shrunk(raw, mostPixels)
}

// shrunk returns a photo of at most so many pixels as a small JPEG; nil for
// anything else.
func shrunk(raw []byte, most int) []byte {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil || cfg.Width < 1 || cfg.Height < 1 || cfg.Width > most/cfg.Height {
		return nil
	}
	picture, _, err := image.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil
	}
	w, h := cfg.Width, cfg.Height
	if long := max(w, h); long > longEdge {
		w, h = max(1, w*longEdge/long), max(1, h*longEdge/long)
	}
	small := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(small, small.Bounds(), image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(small, small.Bounds(), picture, picture.Bounds(), draw.Over, nil)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, small, &jpeg.Options{Quality: quality}); err != nil {
		return nil
	}
	return b.Bytes()
}
