package deploy

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// need returns the path of a program, or skips the test and says what is not
// tried without it.
func need(t *testing.T, program, untried string) string {
	t.Helper()
	if path, err := exec.LookPath(program); err == nil {
		return path
	}
	if path, err := filepath.Abs(filepath.Join("..", "build", program)); err == nil {
		if _, err := os.Stat(path); err == nil {
			return path
		}
	}
	t.Skipf("%s is not installed: %s", program, untried)
	return ""
}

// output runs a program to its end and returns what it wrote; failing fails the
// test.
func output(t *testing.T, program string, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	c := exec.CommandContext(t.Context(), program, args...)
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s%s", filepath.Base(program), strings.Join(args, " "), err, out.String(), errs.String())
	}
	return out.String()
}

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// settings are the lines of a file that are neither empty nor a comment.
func settings(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			all = append(all, line)
		}
	}
	return all
}
