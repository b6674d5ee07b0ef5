package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/procedures"
)

func TestATeardownGetsItsReassembly(t *testing.T) {
	atHome(t)
	dir := t.TempDir()
	teardown, out := filepath.Join(dir, "teardown.yaml"), filepath.Join(dir, "whole.yaml")
	if err := os.WriteFile(teardown, []byte(`draft: true
id: guard
title: Belt guard
steps:
  - {id: guard-off, say: Take the guard off., off: [4 guard screws, guard], stuff: 2 rags}
`), 0o600); err != nil {
		t.Fatal(err)
	}
	printed, said, err := proceduresCommand(t, "", "reassembly", teardown, "-o", out)
	if err != nil || printed != "" || !strings.Contains(said, "3 steps, 3 doubts: go through the comments of "+out) {
		t.Errorf("%v: %q, %q", err, printed, said)
	}
	p, mistakes, err := procedures.ReadFile(out)
	if err != nil || p == nil || len(p.Steps) != 3 || p.Steps[2].Tight[0] != "4 guard screws" {
		t.Errorf("%v: %+v, %v", err, p, mistakes)
	}
	whole := filepath.Join(dir, "no-draft.yaml")
	if err := os.WriteFile(whole, []byte("id: guard\ntitle: Belt guard\nsteps:\n  - {id: off, say: Off., off: guard, stuff: rag}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ ref, want string }{{whole, "Write `draft: true`"}, {"valve-cover", "puts everything right again"}, {filepath.Join(dir, "absent.yaml"), "no such procedure"}} {
		if _, _, err := proceduresCommand(t, "", "reassembly", c.ref); exitCode(err) != exitUsage || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.ref, err, c.want)
		}
	}
}
