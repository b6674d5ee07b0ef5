package procedures_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// TestPlantedMistakes reads files with one mistake each. Their first line says on which line the mistake must be found, and in which
// words; nothing else may be.
func TestPlantedMistakes(t *testing.T) {
	files, err := filepath.Glob("testdata/mistakes/*.yaml")
	if err != nil || len(files) < 40 {
		t.Fatalf("%d files, error %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			first, _, _ := strings.Cut(string(data), "\n")
			want, ok := strings.CutPrefix(first, "# want: ")
			if !ok {
				t.Fatalf("the first line is %q", first)
			}
			_, mistakes, err := procedures.ReadFile(file)
			if err != nil || len(mistakes) != 1 {
				t.Fatalf("mistakes %v, error %v", mistakes, err)
			}
			if got := fmt.Sprintf("%d: %s", mistakes[0].Line, mistakes[0].What); got != want {
				t.Errorf("found\n\t%s\nwant\n\t%s", got, want)
			}
			if mend := mistakes[0].Mend; len(strings.Fields(mend)) < 3 || mend == mistakes[0].What {
				t.Errorf("the mend %q names nothing to do", mend)
			}
		})
	}
}

// Mended, the planted files are silent: what is found is the mistake, not the file around it.
func TestPlantedMistakes_mended(t *testing.T) {
	for _, c := range []struct{ file, from, to string }{
		{"rag-forgotten", "stuff: 4 rags}", "stuff: 4 rags, out: 4 rags}"},
		{"back-only-if-yes", "off: hose}", "only_if: hard, off: hose}"},
		{"one-rag-forgotten", "out: 3 rags", "out: 4 rags"},
		{"past-proof", "30 N·m", "10 N·m"},
		{"stages-fall", "40 N·m, 20 N·m", "20 N·m, 40 N·m"},
		{"stage-past-full", "full, 60 N·m", "40 N·m, full"},
		{"stages-end-short", "half]", "half, full]"},
		{"stage-in-another-unit", "15 lbf·ft", "20 N·m"},
		{"stretched-bolt-reused", "angle: 90", "angle: 90, new: true"},
		{"twelvefold", "lbf·ft", "lbf·in"},
		{"caution-wait-missing", "use: airbag", "use: airbag, wait: 10"},
		{"group-name-unknown", "{sid}", "{side}"},
		{"timer-not-on-every-path", "await", "only_if: hose, await"},
		{"engine-over-rag", "starts_engine: true", "minutes: 1"},
		{"engine-in-words", "leaks.}", "leaks., starts_engine: true}"},
		{"answered-before-the-deed", "support: 2 axle stands, cautions: {use: raised-vehicle}}\n  - {", "support: 2 axle stands}\n  - {cautions: {use: raised-vehicle}, "},
		{"torque-in-words", "25 N·m.}", "25 N·m., torque: [{fastener: plug, value: 25 N·m}]}"},
		{"level-not-rechecked", "fill: coolant}", "fill: coolant}\n  - {id: three, say: Look at it., level: coolant}"},
	} {
		data, err := os.ReadFile("testdata/mistakes/" + c.file + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		_, steps, _ := strings.Cut(string(data), "\n")
		mended := strings.Replace(steps, c.from, c.to, 1)
		if _, mistakes := procedures.Load("job.yaml", []byte(mended)); mended == steps || len(mistakes) > 0 {
			t.Errorf("%s mended has %v", c.file, mistakes)
		}
	}
}
