package main

import (
	"strings"
	"testing"

	"recoat/sensors"
)

// A file of what twins taught is finite figures, or has taught nothing.
func FuzzDecodeOffsets(f *testing.F) {
	f.Add(`{"air-temperature:a air-temperature:b": 0.4}`)
	f.Add(`null`)
	f.Add(`{"x": 1e999}`)
	f.Fuzz(func(t *testing.T, text string) {
		o, err := decodeOffsets(strings.NewReader(text))
		if err != nil {
			return
		}
		if o == nil {
			t.Fatal("it cannot be learnt into")
		}
		for pair, v := range o {
			if !sensors.IsFinite(v) {
				t.Fatalf("%s differ by %v", pair, v)
			}
		}
	})
}
