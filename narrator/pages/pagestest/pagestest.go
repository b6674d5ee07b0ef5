// Package pagestest looks at pages as people do: in a real browser, at the sizes of a tablet, a desk and a sheet of paper, light and
// dark, with an accessibility engine beside it.
//
// The browser is Chromium and the engine axe-core; .ci/setup.sh test installs both. Without them tests skip, but where CI=true
// they fail.
package pagestest

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Patience is how long anything may take that a test waits for.
const Patience = 30 * time.Second

// Browser is a browser of the test's own, without window and without history. It ends with the test.
type Browser struct {
	t   testing.TB
	ctx context.Context
	axe string // source of the accessibility engine
}

// Open starts a browser, or skips the test where there is none, or under the race detector, which sees nothing of
// a browser and slows it down.
func Open(t testing.TB) *Browser {
	t.Helper()
	if raced {
		t.Skip("the race detector: without a browser")
	}
	program := find(t)
	axe := engine(t)
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(program),
		chromedp.NoSandbox, // root has none, and the pages are ours
		chromedp.Flag("lang", "en-GB"),
	)
	allocated, stop := chromedp.NewExecAllocator(context.WithoutCancel(t.Context()), options...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(allocated)
	t.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("%s does not start: %v", program, err)
	}
	return &Browser{t: t, ctx: ctx, axe: axe}
}

// find is the browser's program.
func find(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	missing(t, "no Chromium on the PATH; .ci/setup.sh test installs it")
	return ""
}

// engine reads axe-core, which .ci/setup.sh test puts below .build/ beside go.mod.
func engine(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for dir != filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		dir = filepath.Dir(dir)
	}
	path := filepath.Join(dir, ".build", "axe-core", "axe.min.js")
	source, err := os.ReadFile(path)
	if err != nil {
		missing(t, "no accessibility engine in "+path+"; .ci/setup.sh test puts it there")
	}
	return string(source)
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal(what)
	}
	t.Skip(what)
}
