package document

import (
	"bytes"
	"image"
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
