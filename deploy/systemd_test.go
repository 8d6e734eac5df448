package deploy

import (
	"os/exec"
	"testing"
)

func analyzeSecurity(t *testing.T, analyze, unit string) (string, error) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), analyze, "security", "--offline=true", "--no-pager", "--threshold="+strictest, unit).CombinedOutput()
	return string(out), err
}

// complaints is what the manager says against a service, which is nothing for
// one that it understands.
func complaints(t *testing.T, analyze, unit string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), analyze, "verify", "--man=no", "--recursive-errors=no", unit).CombinedOutput()
	if err != nil && len(out) == 0 {
		return err.Error()
	}
	return string(out)
}
