package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"recoat/internal/shop/photo"
)

// photosOf is the folder that goes with a backup: its photos, by their names.
func photosOf(backup string) photo.Folder { return photo.Folder(backup + ".photos") }

// copyPhotos copies photos by name from one folder to another, and returns how
// many it copied. Those that cannot be had do not keep the others from it.
func copyPhotos(from, to photo.Folder, names []string) (int, error) {
	var errs []error
	copied := 0
	for _, name := range names {
		content, _, err := from.Get(name)
		if err == nil {
			_, err = to.Put(bytes.NewReader(content))
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("the photo %s: %w", name, err))
			continue
		}
		copied++
	}
	return copied, errors.Join(errs...)
}

// photosIn are the names in a folder of photos; none where there is no folder.
func photosIn(f photo.Folder) ([]string, error) {
	entries, err := os.ReadDir(string(f))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the photos: %w", err)
	}
	var names []string
	for _, e := range entries {
		if name := filepath.Base(e.Name()); photo.ValidName(name) {
			names = append(names, name)
		}
	}
	return names, nil
}
