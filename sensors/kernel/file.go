package kernel

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"recoat/sensors"
)

// A file of the kernel's is a page at most.
const maxFile = 4096

// errEmpty is a file with nothing in it, as while a conversion runs.
var errEmpty = errors.New("the file is empty: nothing has been measured yet")

func readText(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxFile))
	if err != nil {
		return "", err
	}
	trimmed := strings.TrimSpace(string(text))
	if trimmed == "" {
		return "", fmt.Errorf("%s: %w", path, errEmpty)
	}
	return trimmed, nil
}

func readNumber(path string) (float64, error) {
	text, err := readText(path)
	if err != nil {
		return 0, err
	}
	v, err := parseNumber(text)
	if err != nil {
		return 0, fmt.Errorf("%s %w", path, err)
	}
	return v, nil
}

func parseNumber(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !sensors.IsFinite(v) {
		return 0, fmt.Errorf("holds %.40q, not a number", text)
	}
	return v, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
