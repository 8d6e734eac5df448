package faults

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	fuzzRow  = regexp.MustCompile("(?m)^\\| [^|]+ \\| `([a-z/]+)` (Fuzz[A-Za-z0-9]+) \\|")
	fuzzFunc = regexp.MustCompile(`(?m)^func (Fuzz[A-Za-z0-9]+)\(f \*testing\.F\)`)
)

// The table has every fuzz test that there is, and no other.
func TestEveryDecoderOfTheTableIsFuzzed(t *testing.T) {
	text, err := os.ReadFile("FUZZ.md")
	if err != nil {
		t.Fatal(err)
	}
	var listed, written []string
	for _, row := range fuzzRow.FindAllStringSubmatch(string(text), -1) {
		listed = append(listed, row[1]+" "+row[2])
	}
	root := filepath.Join("..", "..")
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == "build"):
			return fs.SkipDir
		case !strings.HasSuffix(path, "_test.go"):
			return nil
		}
		source, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		folder, err := filepath.Rel(root, filepath.Dir(path))
		for _, m := range fuzzFunc.FindAllStringSubmatch(string(source), -1) {
			written = append(written, filepath.ToSlash(folder)+" "+m[1])
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range written {
		if !slices.Contains(listed, name) {
			t.Errorf("%s is not in the table", name)
		}
	}
	for _, name := range listed {
		if !slices.Contains(written, name) {
			t.Errorf("%s is in the table, and is no test", name)
		}
	}
	if len(written) < 40 {
		t.Errorf("%d fuzz tests", len(written))
	}
}
