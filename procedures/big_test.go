package procedures_test

import (
	"fmt"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// longFile is a procedure of so many steps, which take off and put back, with
// torques, cautions and minutes.
func longFile(steps int) []byte {
	var b strings.Builder
	b.WriteString(strings.TrimSuffix(small, "  - id: one\n    say: Do it.\n"))
	for i := range steps / 2 {
		fmt.Fprintf(&b, "  - id: off-%d\n    say: Take the bracket off.\n    title: Bracket off\n    minutes: 0.5\n    tools: 10 mm socket\n    cautions:\n      - Hot.\n    off:\n      - 2 bolts %d\n      - bracket %d\n", i, i, i)
		fmt.Fprintf(&b, "  - id: on-%d\n    say: Put the bracket on.\n    title: Bracket on\n    back: bracket %d\n    tight: 2 bolts %d\n    torque:\n      - fastener: M8×1.25 8.8 bolt\n        count: 2\n        value: 20 N·m\n", i, i, i)
	}
	return []byte(b.String())
}

// hugeFile is a file of 10 MB.
func hugeFile() []byte { return []byte(strings.Repeat("# nothing in this line\n", 10<<20/23+1)) }

func TestLoad_long(t *testing.T) {
	p, mistakes := procedures.Load("long.yaml", longFile(5000))
	if len(mistakes) > 0 {
		t.Fatal(mistakes)
	}
	if last := p.Steps[len(p.Steps)-1]; len(p.Steps) != 5000 || last.ID != "on-2499" || last.Torque[0].Value != torque(t, "20 N·m") {
		t.Errorf("%d steps, the last %+v", len(p.Steps), last)
	}
}

func TestLoad_tooManySteps(t *testing.T) {
	p, mistakes := procedures.Load("long.yaml", longFile(5002))
	if p != nil || len(mistakes) != 1 || !strings.Contains(mistakes[0].String(), "more than 5000 steps. Split the job into several procedures.") {
		t.Errorf("mistakes %v", mistakes)
	}
}

func TestLoad_huge(t *testing.T) {
	p, mistakes := procedures.Load("huge.yaml", hugeFile())
	if p != nil || len(mistakes) != 1 || !strings.Contains(mistakes[0].String(), "more than 2097152. Split the job into several procedures.") {
		t.Errorf("mistakes %v", mistakes)
	}
}

// BenchmarkLoad_long reads and checks 5000 steps, refuses 10 MB, and answers files
// made to keep it busy.
func BenchmarkLoad_long(b *testing.B) {
	for _, c := range []struct {
		name string
		data string
		good bool
	}{
		{"5000steps", string(longFile(5000)), true},
		{"10MB", string(hugeFile()), false},
		{"emptyValues", strings.Repeat("- - - - - - - - -\n", 80_000), false},
		{"manyKeys", strings.Repeat("key: b\n", 99_000), false},
		{"deepBrackets", strings.Repeat("[{a: ", 400_000), false},
		{"longGroup", small + "  - each: {a: 1 to 70}\n    steps:\n      - each: {b: 1 to 70}\n        steps:\n          - {id: a, say: '" +
			strings.Repeat("{a}", 300) + "'}\n", false},
		{"unknownNames", small + "  - each: {a: 1 to 4900}\n    steps: [{id: a, say: x, await: '{a} glue', timers: [{name: 'glue {a}', minutes: 1}]}]\n", false},
	} {
		b.Run(c.name, func(b *testing.B) {
			data := []byte(c.data)
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				if p, mistakes := procedures.Load("long.yaml", data); (p != nil) != c.good {
					b.Fatal(mistakes)
				}
			}
		})
	}
}

// BenchmarkLoad_library reads and checks each bundled procedure.
func BenchmarkLoad_library(b *testing.B) {
	for _, p := range procedures.Bundled() {
		b.Run(p.ID, func(b *testing.B) {
			for b.Loop() {
				if q, mistakes := procedures.Load(p.Name(), []byte(p.Text())); q == nil {
					b.Fatal(mistakes)
				}
			}
		})
	}
}
