package main

import (
	"os"
	"strings"
	"testing"
)

// Whatever stands in a configuration, it is taken whole or refused in one line
// that a person can act on.
func FuzzReadConfig(f *testing.F) {
	shipped, err := os.ReadFile("../../deploy/recoat.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(shipped))
	f.Add("[sensors]\nevery = \"10s\"\n[[sensors.thermistors]]\nadc = 0x48")
	f.Add("[store]\nkind = \"influxdb\"\nurl = 7")
	f.Add("[alerts]\nquiet = \"22:00-06:30\"")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := readConfig(strings.NewReader(text))
		if err != nil {
			if err.Error() == "" {
				t.Fatal("refused without a word")
			}
			return
		}
		if err := c.check(); err != nil {
			t.Fatalf("taken, and then: %v", err)
		}
	})
}
