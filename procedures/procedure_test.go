package procedures_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

func TestProcedure_BookHours(t *testing.T) {
	p := procedures.Procedure{Book: []procedures.Operation{{Hours: 240}, {Hours: 120}}, Overlap: 70}
	if got := p.BookHours(); got != 290 || got.String() != "2.9" {
		t.Errorf("2.4 h + 1.2 h − 0.7 h is %s h", got)
	}
	p.Overlap = 500
	if got := p.BookHours(); got != 0 {
		t.Errorf("an overlap above the sum leaves %s h, want 0.0", got)
	}
}

func TestProcedure_ExpectedMinutes(t *testing.T) {
	p := procedures.Procedure{
		Book:  []procedures.Operation{{Hours: 50}}, // 30 min
		Steps: []procedures.Step{{ID: "a", Minutes: 10}, {ID: "b"}, {ID: "c", Minutes: 5}, {ID: "d"}},
	}
	for i, want := range []struct {
		minutes float64
		basis   procedures.Basis
	}{{10, procedures.FromFile}, {7.5, procedures.FromBook}, {5, procedures.FromFile}, {7.5, procedures.FromBook}} {
		if got, basis := p.ExpectedMinutes(i); got != want.minutes || basis != want.basis {
			t.Errorf("step %d takes %v min from %s, want %v from %s", i, got, basis, want.minutes, want.basis)
		}
	}
	p.Steps[0].Minutes = 40
	if got, basis := p.ExpectedMinutes(1); got != 0 || basis != procedures.NoBasis {
		t.Errorf("with the book used up a step takes %v min from %s", got, basis)
	}
}

// What the steps without minutes share is exactly what the others leave.
func TestProcedure_ExpectedMinutesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := procedures.Procedure{Book: []procedures.Operation{{Hours: procedures.Hours(rapid.IntRange(1, 2000).Draw(t, "hours"))}}}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			p.Steps = append(p.Steps, procedures.Step{Minutes: float64(rapid.IntRange(0, 20).Draw(t, "minutes"))})
		}
		sum, shared := 0.0, false
		for i := range p.Steps {
			minutes, basis := p.ExpectedMinutes(i)
			sum, shared = sum+minutes, shared || basis == procedures.FromBook
		}
		if book := p.BookHours().Duration().Minutes(); shared && math.Abs(sum-book) > 1e-9*book {
			t.Fatalf("the steps take %v min, the book allows %v", sum, book)
		}
	})
}

func TestProcedure_Index(t *testing.T) {
	p := procedures.Procedure{Steps: []procedures.Step{{ID: "a"}, {ID: "b", Say: "Say b.", Title: "B"}}}
	if i, ok := p.Index("b"); !ok || i != 1 {
		t.Errorf("b is at %d, %v", i, ok)
	}
	if _, ok := p.Index("c"); ok {
		t.Error("c is found")
	}
	if got := p.Steps[1].Heading(); got != "B" {
		t.Errorf("heading %q", got)
	}
	if got := (&procedures.Step{Say: "Go."}).Heading(); got != "Go." {
		t.Errorf("heading %q", got)
	}
}

// Every kind of item can be undone, and the table's keys are keys of the file.
func TestItemKinds(t *testing.T) {
	for _, kind := range procedures.ItemKinds() {
		text := small + "    " + kind.Leave + ": thing\n  - id: two\n    say: x\n    " + kind.Undo + ": thing\n"
		if lines := mistakesIn(text); len(lines) > 0 {
			t.Errorf("%s, then %s: %q", kind.Leave, kind.Undo, lines)
		}
		if procedures.Speakable(kind.State) != kind.State || kind.State == "" {
			t.Errorf("%s is said %q", kind.Leave, kind.State)
		}
	}
}
