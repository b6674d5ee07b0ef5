package narrator_test

import (
	"fmt"
	"strings"
	"testing"

	"stepcaller/narrator"
)

// BenchmarkDecide decides on next at the middle of a job of 46 steps of which every word is in the log.
func BenchmarkDecide(b *testing.B) {
	var file strings.Builder
	file.WriteString("id: long\ntitle: Long\nmachine: Ostwick Pony\nbook: [{code: \"1\", title: Long, hours: 4}]\nsteps:\n")
	for i := range 46 {
		fmt.Fprintf(&file, "  - {id: s%d, say: Take part %d off., minutes: 5, cautions: [Mind your head], off: [part %d]}\n", i, i, i)
	}
	file.WriteString("  - {id: end, say: Put all back., back: [")
	for i := range 46 {
		fmt.Fprintf(&file, "part %d, ", i)
	}
	file.WriteString("]}\n")
	bay := narrator.NewBay(narrator.DefaultSettings())
	take := func(in narrator.Input) {
		if err := bay.Apply(narrator.Decide(bay, in)); err != nil {
			b.Fatal(err)
		}
	}
	next := func(i int) narrator.Heard {
		m := at(float64(10 + i))
		return narrator.Heard{Word: "next", From: m, To: m, At: m, Score: 1, Sure: true}
	}
	take(narrator.Start{At: at(0), Job: "2023-11-14-1", Procedure: "long.yaml", Text: file.String()})
	for i := range 23 {
		take(next(i))
	}
	if bay.Job() == nil || bay.Job().Step != 23 {
		b.Fatal("not at the middle")
	}
	if o := narrator.Decide(bay, next(30)); text(o) != "Caution. Mind your head. Step 25. Take part 24 off." {
		b.Fatalf("said %q", text(o))
	}
	b.ResetTimer()
	for b.Loop() {
		narrator.Decide(bay, next(30))
	}
}
