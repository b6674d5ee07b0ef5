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

func BenchmarkLoad_long(b *testing.B) {
	data := longFile(5000)
	b.Logf("%d bytes, %d lines", len(data), strings.Count(string(data), "\n"))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if p, mistakes := procedures.Load("long.yaml", data); p == nil || len(p.Steps) != 5000 {
			b.Fatal(mistakes)
		}
	}
}
