package alert

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Every rule that rules.go names says what it looks at, in whole sentences.
func TestEveryRuleSaysWhatItLooksAt(t *testing.T) {
	text, err := os.ReadFile("rules.go")
	if err != nil {
		t.Fatal(err)
	}
	rules := regexp.MustCompile(`(?m)^\trule\w+ +\*?= "([a-z-]+)"`).FindAllStringSubmatch(string(text), -1)
	if len(rules) < 20 {
		t.Fatalf("rules.go names %d rules: the check is broken", len(rules))
	}
	for _, r := range rules {
		if says := Whence(r[1]); !strings.HasSuffix(says, ".") || strings.Contains(says, "%!") {
			t.Errorf("%s: %q", r[1], says)
		}
	}
	if Whence("magic") != "" {
		t.Error("what is no rule says something")
	}
}
