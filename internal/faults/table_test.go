package faults

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	tableRow  = regexp.MustCompile(`(?m)^\| (\d+) \|.*\| ([^|]+) \|$`)
	tableName = regexp.MustCompile("(?:`([a-z/]+)` )?((?:Test|check)[A-Za-z0-9]+)")
)

// The table names no test that is not there, and has no row without one.
func TestEveryRowOfTheTableIsShown(t *testing.T) {
	text, err := os.ReadFile("FAULTS.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := tableRow.FindAllStringSubmatch(string(text), -1)
	if len(rows) < 25 {
		t.Fatalf("%d rows", len(rows))
	}
	sources := map[string]string{}
	for _, row := range rows {
		folder := ""
		for _, m := range tableName.FindAllStringSubmatch(row[2], -1) {
			if m[1] != "" {
				folder = m[1]
			}
			if _, read := sources[folder]; !read {
				sources[folder] = source(t, folder)
			}
			if !strings.Contains(sources[folder], "func "+m[2]+"(") {
				t.Errorf("row %s: %s has no %s", row[1], folder, m[2])
			}
		}
		if folder == "" {
			t.Errorf("row %s names no test", row[1])
		}
	}
}

func source(t *testing.T, folder string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", folder, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
	}
	return all.String()
}
