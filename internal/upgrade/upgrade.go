// Package upgrade keeps a copy of each database that a newer recoat is about to
// bring to a newer schema, so that the older recoat can be gone back to.
package upgrade

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"recoat/internal/sqldb"
)

// Folder is where copies go, below the folder of the file they are of.
const Folder = "before-upgrade"

// kept is how many copies of one file stay; older ones make room.
const kept = 3

// File is a database, and the schema this recoat will bring it to.
type File struct {
	Path   string
	Schema sqldb.Schema
}

// Step is what is to be done, or was, with one file.
type Step struct {
	Path string `json:"file"`
	Copy string `json:"copy"`
	From int    `json:"from_version"`
	To   int    `json:"to_version"`
}

// Prepare copies every file of an older schema. Files that are absent, empty or
// already of this schema are left alone, and so are damaged ones, which the start
// after this repairs from their backup. Where one is of a newer schema, or not
// recoat's, nothing is copied at all, and the error names it and says what to do.
func Prepare(ctx context.Context, files []File, now time.Time) ([]Step, error) {
	var steps []Step
	var refused []error
	for _, f := range files {
		step, due, err := f.look(ctx, now)
		if err != nil {
			refused = append(refused, err)
		}
		if due {
			steps = append(steps, step)
		}
	}
	if err := errors.Join(refused...); err != nil {
		return nil, err
	}
	var done []Step
	for _, s := range steps {
		err := sqldb.CopyTo(ctx, s.Path, s.Copy)
		switch {
		case errors.Is(err, sqldb.ErrDamaged):
			continue
		case err != nil:
			return done, fmt.Errorf("%w; make room on the disk, or move older files out of %s", err, filepath.Dir(s.Copy))
		}
		done = append(done, s)
		if err := thin(s.Path); err != nil {
			return done, err
		}
	}
	return done, nil
}

// look says whether the file has to be copied.
func (f File) look(ctx context.Context, now time.Time) (s Step, due bool, err error) {
	info, err := os.Stat(f.Path)
	if errors.Is(err, os.ErrNotExist) || err == nil && info.Size() == 0 {
		return s, false, nil
	}
	if err != nil {
		return s, false, fmt.Errorf("look at %s: %w", f.Path, err)
	}
	label, err := sqldb.Inspect(ctx, f.Path)
	switch {
	case errors.Is(err, sqldb.ErrDamaged):
		return s, false, nil
	case err != nil:
		return s, false, fmt.Errorf("look at %w", err)
	}
	known := len(f.Schema.Migrations)
	switch {
	case label.ApplicationID != f.Schema.ApplicationID:
		return s, false, fmt.Errorf("%s: %w", f.Path, sqldb.ErrForeign)
	case label.Version > known:
		return s, false, f.newer(label.Version)
	}
	if label.Version == known || f.copied(label.Version) {
		return s, false, nil
	}
	s = Step{Path: f.Path, From: label.Version, To: known}
	s.Copy = filepath.Join(filepath.Dir(f.Path), Folder, fmt.Sprintf("%s-v%d-%s.db", stem(f.Path), label.Version, now.UTC().Format("20060102T150405.000Z")))
	return s, true, nil
}

// copied says whether the newest copy is of this version, and nothing was written
// to the file since.
func (f File) copied(version int) bool {
	all := copies(f.Path)
	if len(all) == 0 || !strings.HasPrefix(filepath.Base(all[len(all)-1]), fmt.Sprintf("%s-v%d-", stem(f.Path), version)) {
		return false
	}
	copied, err := os.Stat(all[len(all)-1])
	if err != nil {
		return false
	}
	for _, part := range []string{f.Path, f.Path + "-wal"} {
		if info, err := os.Stat(part); err == nil && info.ModTime().After(copied.ModTime()) {
			return false
		}
	}
	return true
}

// newer says which file is too new, and the two ways out.
func (f File) newer(version int) error {
	known := len(f.Schema.Migrations)
	way := "there is no copy from before the upgrade"
	for _, c := range slices.Backward(copies(f.Path)) {
		var v int
		if _, err := fmt.Sscanf(strings.TrimPrefix(filepath.Base(c), stem(f.Path)+"-"), "v%d-", &v); err == nil && v <= known {
			way = fmt.Sprintf("or move it and its -wal and -shm files aside and put %s in its place, which loses what came after that", c)
			break
		}
	}
	return fmt.Errorf("%s has schema %d, this recoat knows up to %d: %w; install that version again; %s", f.Path, version, known, sqldb.ErrNewer, way)
}

func stem(path string) string { return strings.TrimSuffix(filepath.Base(path), ".db") }

// copies returns the copies of a file, the oldest first.
func copies(path string) []string {
	all, _ := filepath.Glob(filepath.Join(globbed(filepath.Dir(path)), Folder, stem(path)+"-v*-*.db")) // fails for a bad pattern alone
	slices.SortFunc(all, func(a, b string) int { return strings.Compare(stamp(a), stamp(b)) })
	return all
}

// globbed takes the meaning from the characters that Glob would read.
func globbed(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}

func stamp(path string) string {
	name := stem(path)
	return name[strings.LastIndex(name, "-")+1:]
}

// thin removes the oldest copies beyond those kept.
func thin(path string) error {
	all := copies(path)
	for _, old := range all[:max(0, len(all)-kept)] {
		if err := os.Remove(old); err != nil {
			return fmt.Errorf("remove an old copy: %w", err)
		}
	}
	return nil
}
