package audit_test

import (
	"testing"

	"recoat/internal/audit"
	"recoat/internal/audit/audittest"
)

// BenchmarkBuild makes the record of thirty days of readings every ten seconds.
func BenchmarkBuild(b *testing.B) {
	e := audittest.Month()
	for b.Loop() {
		audit.Build(e)
	}
}
