package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	for _, b := range builds() {
		if err := os.WriteFile(filepath.Join("drawings", b.File), []byte(b.svg()), 0o644); err != nil {
			fmt.Fprintln(os.Stderr, "draw:", err)
			os.Exit(1)
		}
	}
}
