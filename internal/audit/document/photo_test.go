package document

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

// A photo goes into a document as a JPEG of a bounded size, or not at all.
func FuzzShrunk(f *testing.F) {
	const most = 1 << 13
	var photo, drawing bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 9, 7)), nil); err != nil {
		f.Fatal(err)
	}
	if err := png.Encode(&drawing, image.NewNRGBA(image.Rect(0, 0, 5, 3))); err != nil {
		f.Fatal(err)
	}
	f.Add(photo.Bytes())
	f.Add(drawing.Bytes())
	f.Add([]byte("\xff\xd8\xff"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		small := shrunk(raw, most)
		if small == nil {
			return
		}
		size, kind, err := image.DecodeConfig(bytes.NewReader(small))
		if err != nil || kind != "jpeg" || size.Width > longEdge || size.Height > longEdge || size.Width*size.Height > most {
			t.Fatalf("it became a %s of %d by %d, %v", kind, size.Width, size.Height, err)
		}
	})
}

// Every dot of a smaller photo is the mean of those it stands for, and what is
// clear is as white as the paper below it.
func TestReduced(t *testing.T) {
	from := image.NewNRGBA(image.Rect(10, 20, 16, 24))
	for y := 20; y < 24; y++ {
		for x := 10; x < 12; x++ {
			if (x+y)%2 == 0 {
				from.SetNRGBA(x, y, color.NRGBA{R: 0xff, G: 0xff, B: 0xff, A: 0xff})
			} else {
				from.SetNRGBA(x, y, color.NRGBA{A: 0xff})
			}
			from.SetNRGBA(x+2, y, color.NRGBA{R: 0xff, A: 0x80})
		}
	}
	got := reduced(from, 3, 2)
	for y := range 2 {
		for x, want := range []color.RGBA{{0x7f, 0x7f, 0x7f, 0xff}, {0xff, 0x7f, 0x7f, 0xff}, {0xff, 0xff, 0xff, 0xff}} {
			if at := got.RGBAAt(x, y); at != want {
				t.Errorf("at %d, %d is %v, want %v", x, y, at, want)
			}
		}
	}
}
