package upkeep

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

const (
	noteFile = "mended.json"
	noteMax  = 1 << 20
	// noteFor is how long the pages speak of it.
	noteFor = 14 * 24 * time.Hour
)

// Notes returns what was mended lately, oldest first.
func (k Keeper) Notes(now time.Time) ([]Mended, error) {
	all, err := k.notes()
	var recent []Mended
	for _, m := range all {
		if now.Sub(m.At) < noteFor {
			recent = append(recent, m)
		}
	}
	return recent, err
}

func (k Keeper) notes() ([]Mended, error) {
	f, err := os.Open(filepath.Join(k.Folder, noteFile))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }()
	text, err := io.ReadAll(io.LimitReader(f, noteMax))
	if err != nil {
		return nil, err
	}
	return decodeNotes(text)
}

func decodeNotes(text []byte) (all []Mended, err error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		return nil, fmt.Errorf("%s: %w", noteFile, err)
	}
	return all, nil
}

// note adds to the notes. Notes that cannot be read give way to new ones.
func (k Keeper) note(more []Mended) error {
	all, err := k.notes()
	if err != nil {
		all = nil
	}
	text, err := json.MarshalIndent(append(all, more...), "", "\t")
	if err != nil {
		return err
	}
	path := filepath.Join(k.Folder, noteFile)
	f, err := os.OpenFile(path+".new", os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(path+".new", path); err != nil {
		return err
	}
	return syncFolder(k.Folder)
}
