package main

import (
	"bytes"
	"strings"
	"testing"
)

// Questions are printed and stop nothing; mistakes and files that are not there are counted, and every file is looked at.
func TestCheckProcedure(t *testing.T) {
	atHome(t)
	sound := writeProcedure(t, fanBelt)
	asked := writeProcedure(t, strings.Replace(fanBelt, "say: Swap the belt.,", "say: Swap the belt., off: belt, figures: belt.svg,", 1))
	wrong := writeProcedure(t, strings.Replace(fanBelt, "say: Swap the belt.,", "say: Swap the belt., stuff: rag,", 1))
	check := func(want int, files []string, parts ...string) {
		t.Helper()
		var out bytes.Buffer
		err := checkProcedures(&out, defaultConfig(), files)
		if (err == nil) != (want == exitDone) || err != nil && exitCode(err) != want {
			t.Errorf("%v: %v", files, err)
		}
		for _, part := range parts {
			if !strings.Contains(out.String(), part) {
				t.Errorf("no %q in\n%s", part, out.String())
			}
		}
	}
	check(exitDone, []string{sound}, sound+": good: 3 steps, book 0.1 h\n")
	check(exitDone, []string{asked}, "question: there is no picture belt.svg", `"belt" off to the end`, asked+": can be used, with 2 questions: 3 steps")
	check(exitUsage, []string{wrong, "absent.yaml", sound}, `"rag" stuffed to the end`, "absent.yaml; check the path", sound+": good")
}
