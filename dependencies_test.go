package recoat_test

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Each module that we chose has its reason in SECURITY.md, and no other has.
func TestEveryDependencyHasItsReason(t *testing.T) {
	mod, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile("SECURITY.md")
	if err != nil {
		t.Fatal(err)
	}
	chosen := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\t(\S+) v\S+$`).FindAllStringSubmatch(string(mod), -1) {
		chosen[m[1]] = true
	}
	if len(chosen) < 10 {
		t.Fatalf("go.mod names %d modules that we chose", len(chosen))
	}
	given := map[string]bool{}
	_, list, _ := strings.Cut(string(page), "| module | for |")
	for _, m := range regexp.MustCompile("(?m)^\\| `(\\S+)` \\| \\S").FindAllStringSubmatch(list, -1) {
		given[m[1]] = true
	}
	for name := range chosen {
		if !given[name] {
			t.Errorf("SECURITY.md gives no reason for %s", name)
		}
	}
	for name := range given {
		if !chosen[name] {
			t.Errorf("SECURITY.md gives a reason for %s, which is not there", name)
		}
	}
}
