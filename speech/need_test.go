package speech_test

import (
	"os"
	"os/exec"
	"testing"
)

// need skips a test at a desk that lacks a program, and fails it in CI, where
// every test must run.
func need(t *testing.T, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err == nil {
		return
	}
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed: make test installs it", program)
	}
	t.Skipf("%s is not installed", program)
}
