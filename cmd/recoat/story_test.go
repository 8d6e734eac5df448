package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const storyFolder = "../../testdata/story"

// words splits a line at spaces, except between double quotes.
func words(line string) []string {
	var all []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			all[len(all)-1] += part
			continue
		}
		fields := strings.Fields(part)
		if i > 0 && len(fields) > 0 && !strings.HasPrefix(part, " ") {
			all[len(all)-1] += fields[0]
			fields = fields[1:]
		}
		all = append(all, fields...)
		if strings.HasSuffix(part, " ") {
			all = append(all, "")
		}
	}
	if n := len(all); n > 0 && all[n-1] == "" {
		all = all[:n-1]
	}
	return all
}

// tell plays the story by the shell, each line at its own instant.
func (s shell) tell(t *testing.T) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(storyFolder, "story.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		when, what, ok := strings.Cut(strings.TrimSpace(line), " ")
		if !ok || strings.HasPrefix(line, "#") {
			continue
		}
		at, err := time.Parse(time.RFC3339, when)
		if err != nil {
			t.Fatal(err)
		}
		args := words(what)
		for i, arg := range args {
			if strings.HasSuffix(arg, ".toml") {
				args[i] = filepath.Join(storyFolder, arg)
			}
		}
		var out, errs bytes.Buffer
		if code := runAt(t.Context(), func() time.Time { return at }, append(args, "--config", s.config), &out, &errs); code != 0 {
			t.Fatalf("%s: exit %d: %s", line, code, errs.String())
		}
	}
}

func (s shell) export(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "journal.json")
	s.must("journal", "backup", path)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// The same story leaves the same journal, byte for byte, and so does a restore
// on an empty machine. With RECOAT_WRITE_STORY set, the journal that it is held
// to is written anew.
func TestTheStoryByTheShell(t *testing.T) {
	s := newShell(t)
	s.tell(t)
	got := s.export(t)
	golden := filepath.Join(storyFolder, "journal.json")
	if os.Getenv("RECOAT_WRITE_STORY") != "" {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the journal differs from %s: look at what changed, then test with RECOAT_WRITE_STORY set\n%s", golden, firstDifference(got, want))
	}
	again := newShell(t)
	path := filepath.Join(t.TempDir(), "journal.json")
	if err := os.WriteFile(path, got, 0o600); err != nil {
		t.Fatal(err)
	}
	again.must("journal", "restore", path)
	if !bytes.Equal(again.export(t), want) {
		t.Error("restored on an empty machine, the journal exports another text")
	}
	var next scheduleReport
	s.json(&next, "piece", "schedule", "p-0001")
	if len(next.Next) != 2 || next.Parts[0].Steps[8].Done.IsZero() {
		t.Errorf("what is next: %+v", next.Next)
	}
}

// firstDifference is the first line that differs.
func firstDifference(got, want []byte) string {
	a, b := bytes.Split(got, []byte("\n")), bytes.Split(want, []byte("\n"))
	for i := range min(len(a), len(b)) {
		if !bytes.Equal(a[i], b[i]) {
			return "got  " + string(a[i]) + "\nwant " + string(b[i])
		}
	}
	return "one of them ends before the other"
}
