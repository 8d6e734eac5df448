package photo

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func jpegOf(t testing.TB, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, w, h)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestAPhotoIsKeptOnceUnderItsSum(t *testing.T) {
	f := Folder(filepath.Join(t.TempDir(), "photos"))
	content := jpegOf(t, 40, 30)
	name, err := f.Put(bytes.NewReader(content))
	if err != nil || !ValidName(name) {
		t.Fatal(name, err)
	}
	again, err := f.Put(bytes.NewReader(content))
	entries, readErr := os.ReadDir(string(f))
	if again != name || err != nil || readErr != nil || len(entries) != 1 {
		t.Errorf("%s, %v; %d files, %v", again, err, len(entries), readErr)
	}
	got, kind, err := f.Get(name)
	if !bytes.Equal(got, content) || kind != "image/jpeg" || err != nil {
		t.Errorf("%d bytes, %s, %v", len(got), kind, err)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 3, 3))); err != nil {
		t.Fatal(err)
	}
	name, err = f.Put(&b)
	if _, kind, err2 := f.Get(name); err != nil || err2 != nil || kind != "image/png" {
		t.Error(kind, err, err2)
	}
}

func TestWhatIsNoPhoto(t *testing.T) {
	f := Folder(t.TempDir())
	whole := jpegOf(t, 64, 64)
	wide := bytes.Clone(whole)
	i := bytes.Index(wide, []byte{0xff, 0xc0}) // the frame: its height and width follow
	copy(wide[i+5:], []byte{0xff, 0xff, 0xff, 0xff})
	for says, content := range map[string][]byte{
		"is not one":                  []byte("<svg onload=alert(1)>"),
		"is not one, or":              nil,
		"is a jpeg that is damaged":   whole[:len(whole)-20],
		"has 65535 by 65535 pixels":   wide,
		"is larger than 16 MiB: take": bytes.Repeat([]byte{0xff}, MostBytes+1),
	} {
		_, err := f.Put(bytes.NewReader(content))
		var refused *RefusedError
		if !errors.As(err, &refused) || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want %s", err, says)
		}
	}
	if left, err := os.ReadDir(string(f)); err != nil || len(left) > 0 {
		t.Errorf("left over: %v, %v", left, err)
	}
}

func TestAPhotoThatCannotBeHad(t *testing.T) {
	f := Folder(t.TempDir())
	for _, name := range []string{"", "../journal.db", strings.Repeat("a", 64), strings.Repeat("A", 64)} {
		if _, _, err := f.Get(name); !errors.Is(err, ErrNotThere) {
			t.Errorf("%q: %v", name, err)
		}
	}
	name, err := f.Put(bytes.NewReader(jpegOf(t, 8, 8)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(f.path(name), jpegOf(t, 9, 9), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.Get(name); err == nil || !strings.Contains(err.Error(), "is damaged") {
		t.Error(err)
	}
}
