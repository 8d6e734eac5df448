package photo

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"testing"
)

// fuzzPixels bounds the pictures of the fuzz test, so that one that claims to be
// vast costs no seconds.
const fuzzPixels = 1 << 14

// What is taken for a photo is one to its last byte, of no more pixels than fit.
func FuzzCheck(f *testing.F) {
	f.Add([]byte("\xff\xd8\xff"))
	f.Add([]byte("\x89PNG\r\n\x1a\n"))
	f.Add(jpegOf(f, 8, 8))
	var small bytes.Buffer
	if err := png.Encode(&small, image.NewGray(image.Rect(0, 0, 4, 4))); err != nil {
		f.Fatal(err)
	}
	f.Add(small.Bytes())
	f.Fuzz(func(t *testing.T, content []byte) {
		err := check(content, fuzzPixels)
		var refused *RefusedError
		if err != nil {
			if !errors.As(err, &refused) {
				t.Fatalf("refused without a word for a person: %v", err)
			}
			return
		}
		size, kind, err := image.DecodeConfig(bytes.NewReader(content))
		if err != nil || kind != "jpeg" && kind != "png" || size.Width*size.Height > fuzzPixels {
			t.Fatalf("taken: a %s of %d by %d, %v", kind, size.Width, size.Height, err)
		}
	})
}
