package document

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // photos may be of this kind too
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
	decoded, _, err := image.Decode(bytes.NewReader(raw))
	picture, ok := decoded.(image.RGBA64Image)
	if err != nil || !ok {
		return nil
	}
	w, h := picture.Bounds().Dx(), picture.Bounds().Dy()
	if long := max(w, h); long > longEdge {
		w, h = max(1, w*longEdge/long), max(1, h*longEdge/long)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, reduced(picture, w, h), &jpeg.Options{Quality: quality}); err != nil {
		return nil
	}
	return b.Bytes()
}

// reduced is a picture in w by h pixels, no more than it has, each of them the
// mean of those it stands for.
func reduced(from image.RGBA64Image, w, h int) *image.RGBA {
	small, b := image.NewRGBA(image.Rect(0, 0, w, h)), from.Bounds()
	for y := range h {
		for x := range w {
			small.SetRGBA(x, y, mean(from, image.Rect(x*b.Dx()/w, y*b.Dy()/h, (x+1)*b.Dx()/w, (y+1)*b.Dy()/h).Add(b.Min)))
		}
	}
	return small
}

// mean is the mean colour of a part of a picture as it lies on white paper.
func mean(from image.RGBA64Image, part image.Rectangle) color.RGBA {
	var red, green, blue, cover uint64 // a photo has at most 2^26 pixels, and a colour 2^16 steps
	for y := part.Min.Y; y < part.Max.Y; y++ {
		for x := part.Min.X; x < part.Max.X; x++ {
			c := from.RGBA64At(x, y)
			red, green, blue, cover = red+uint64(c.R), green+uint64(c.G), blue+uint64(c.B), cover+uint64(c.A)
		}
	}
	n := uint64(part.Dx() * part.Dy())
	white := n*0xffff - cover
	onPaper := func(sum uint64) uint8 { return uint8((sum + white) / n >> 8) }
	return color.RGBA{R: onPaper(red), G: onPaper(green), B: onPaper(blue), A: 0xff}
}
