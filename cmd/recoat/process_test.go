package main

import (
	"bufio"
	"os"
	"os/exec"
	"regexp"
	"testing"
	"time"
)

// process is recoat as a process of its own, killed when the test ends.
func process(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	c := exec.CommandContext(t.Context(), os.Args[0], args...)
	c.Env = append(os.Environ(), asRecoat+"=1")
	c.Stderr = testWriter{t}
	t.Cleanup(func() {
		if c.Process != nil && c.ProcessState == nil {
			_ = c.Process.Kill()
			_ = c.Wait()
		}
	})
	return c
}

// start runs recoat.
func start(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	c := process(t, args...)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c
}

// startForAddress runs recoat and waits for the address of the pages.
func startForAddress(t *testing.T, args ...string) string {
	t.Helper()
	return running(t, args...).find(t, "("+address.String()+")")
}

// recoatRunning is a process, and what it has said.
type recoatRunning struct {
	pid  int
	said chan string
}

func running(t *testing.T, args ...string) recoatRunning {
	t.Helper()
	c := process(t, args...)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	said := make(chan string, 100)
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			select {
			case said <- lines.Text():
			default: // nobody asks for so much
			}
		}
	}()
	return recoatRunning{c.Process.Pid, said}
}

// find waits for a line and returns what stands in the pattern's brackets.
func (r recoatRunning) find(t *testing.T, pattern string) string {
	t.Helper()
	wanted, end := regexp.MustCompile(pattern), time.After(time.Minute)
	for {
		select {
		case line := <-r.said:
			if m := wanted.FindStringSubmatch(line); m != nil {
				return m[1]
			}
		case <-end:
			t.Fatalf("it never said %s", pattern)
		}
	}
}
