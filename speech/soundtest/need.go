package soundtest

import (
	"os"
	"os/exec"
	"testing"
)

// Need skips a test at a desk that lacks one of the programs, and fails it
// where CI=true, where every test must run.
func Need(t testing.TB, programs ...string) {
	t.Helper()
	for _, p := range programs {
		if _, err := exec.LookPath(p); err != nil {
			missing(t, p)
		}
	}
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed, and in CI this test must run: make test installs what is missing", what)
	}
	t.Skipf("%s is not installed", what)
}
