package main

import (
	"bufio"
	"os"
	"os/exec"
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
	c := process(t, args...)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	found := make(chan string, 1)
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if url := address.FindString(lines.Text()); url != "" {
				found <- url
			}
		}
	}()
	select {
	case url := <-found:
		return url
	case <-time.After(time.Minute):
		t.Fatal("no address within a minute")
	}
	return ""
}
