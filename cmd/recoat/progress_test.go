package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestABarIsDrawnAndTakenAway(t *testing.T) {
	var screen bytes.Buffer
	share := draw(&screen, "Replaying")
	share(0.5)
	if got := screen.String(); !strings.Contains(got, "Replaying") || !strings.Contains(got, "50%") {
		t.Errorf("half of the way: %q", got)
	}
	share(1)
	last := screen.String()[strings.LastIndex(screen.String(), "\r"):]
	if strings.TrimSpace(last) != "" {
		t.Errorf("at the end there stands %q", last)
	}
}

func TestAFileOrAPipeGetsNoBar(t *testing.T) {
	var pipe bytes.Buffer
	progress(&pipe, "Replaying")(0.5)
	path := filepath.Join(t.TempDir(), "err")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	progress(f, "Replaying")(0.5)
	if body, err := os.ReadFile(path); err != nil || len(body) > 0 || pipe.Len() > 0 {
		t.Errorf("the pipe has %q, the file %q, %v", pipe.String(), body, err)
	}
}

func TestReadingAFileTellsHowFarItIs(t *testing.T) {
	path := filepath.Join(t.TempDir(), "backup")
	if err := os.WriteFile(path, make([]byte, 3000), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	var told []float64
	r, err := watchFile(f, func(share float64) { told = append(told, share) })
	if err != nil {
		t.Fatal(err)
	}
	if n, err := io.Copy(io.Discard, r); n != 3000 || err != nil {
		t.Fatal(n, err)
	}
	if len(told) == 0 || told[len(told)-1] != 1 || !slices.IsSorted(told) {
		t.Errorf("told %v, want shares that end at 1", told)
	}
}
