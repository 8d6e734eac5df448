// Package photo keeps photos in a folder, each under the SHA-256 of its bytes,
// so that one kept twice is there once and a damaged one is noticed. A photo is
// kept as the camera wrote it, with the place where it was taken if the camera
// wrote that: nothing that leaves the device may hold it unseen.
package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // decodes a phone's photos
	_ "image/png"  // decodes a screen's
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
)

// What is taken.
const (
	MostBytes  = 16 << 20
	MostPixels = 64 << 20 // a decoded photo takes some 4 bytes for each
)

// ErrNotThere says that no photo has the name that was asked for.
var ErrNotThere = errors.New("the photo is not in the folder")

// Folder is a folder of photos; it need not be there yet.
type Folder string

// Put keeps a photo and returns its name. It refuses what is not wholly a JPEG
// or a PNG.
func (f Folder) Put(r io.Reader) (name string, err error) {
	content, err := io.ReadAll(io.LimitReader(r, MostBytes+1))
	if err != nil {
		return "", fmt.Errorf("read the photo: %w", err)
	}
	if err := check(content, MostPixels); err != nil {
		return "", err
	}
	sum := sha256.Sum256(content)
	name = hex.EncodeToString(sum[:])
	if _, err := os.Stat(f.path(name)); err == nil {
		return name, nil
	}
	if err := f.write(name, content); err != nil {
		return "", fmt.Errorf("keep the photo: %w", err)
	}
	return name, nil
}

// RefusedError says why something is no photo that can be kept.
type RefusedError struct{ Problem string }

// Error begins with the photo.
func (e *RefusedError) Error() string { return "the photo " + e.Problem }

// check decodes a photo of at most so many pixels from its first byte to its
// last.
func check(content []byte, most int) error {
	if len(content) > MostBytes {
		return &RefusedError{fmt.Sprintf("is larger than %d MiB: take a smaller one", MostBytes>>20)}
	}
	size, kind, err := image.DecodeConfig(bytes.NewReader(content))
	switch {
	case err != nil:
		return &RefusedError{"is not one, or of a kind that cannot be read: take a JPEG or a PNG"}
	case size.Width < 1 || size.Height < 1 || size.Width > most/size.Height:
		return &RefusedError{fmt.Sprintf("has %d by %d pixels: at most %d million fit", size.Width, size.Height, most>>20)}
	}
	if _, _, err := image.Decode(bytes.NewReader(content)); err != nil {
		return &RefusedError{"is a " + kind + " that is damaged: take it again"}
	}
	return nil
}

// write brings the bytes under their name whole, or not at all.
func (f Folder) write(name string, content []byte) error {
	if err := os.MkdirAll(string(f), 0o700); err != nil {
		return err
	}
	making, err := os.CreateTemp(string(f), "making-*")
	if err != nil {
		return err
	}
	_, err = making.Write(content)
	if err = errors.Join(err, making.Sync(), making.Close()); err == nil {
		err = os.Rename(making.Name(), f.path(name))
	}
	if err != nil {
		return errors.Join(err, os.Remove(making.Name()))
	}
	return nil
}

var nameForm = regexp.MustCompile(`^[0-9a-f]{64}$`)

// ValidName reports whether a name can be that of a photo.
func ValidName(name string) bool { return nameForm.MatchString(name) }

func (f Folder) path(name string) string { return filepath.Join(string(f), name) }

// Get returns the bytes of a photo and their media type. One that is damaged is
// an error.
func (f Folder) Get(name string) (content []byte, mediaType string, err error) {
	if !ValidName(name) {
		return nil, "", ErrNotThere
	}
	content, err = os.ReadFile(f.path(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "", ErrNotThere
	}
	if err != nil {
		return nil, "", fmt.Errorf("read the photo: %w", err)
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != name {
		return nil, "", fmt.Errorf("the photo %s is damaged: its bytes are not those that were kept", name)
	}
	_, kind, err := image.DecodeConfig(bytes.NewReader(content))
	if err != nil {
		return nil, "", fmt.Errorf("read the photo %s: %w", name, err)
	}
	return content, "image/" + kind, nil
}
