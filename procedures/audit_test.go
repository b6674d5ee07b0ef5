package procedures_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// headed is the small file with these lines before its steps, and those after its
// first step.
func headed(head, lines string) string {
	return strings.Replace(small, "steps:", head+"steps:", 1) + lines
}

func TestCheck_paths(t *testing.T) {
	const choices = "choices: [{id: hard, ask: Is it hard?}, {id: extra, ask: Renew it?, approval: true}, {id: open, ask: Is it open?}]\n"
	const all = "  - {id: all, say: x, only_if: [hard, extra, open]}\n"
	for _, c := range []struct {
		name, head, lines string
		want              []string
	}{
		{"off and back under one choice", choices, "  - {id: a, say: x, only_if: hard, off: hose}\n  - {id: b, say: x, only_if: hard, back: hose}\n" + all, nil},
		{"either way back", choices, "  - {id: a, say: x, off: hose}\n  - {id: b, say: x, only_if: hard, back: hose}\n  - {id: c, say: x, unless: hard, back: hose}\n" + all, nil},
		{"off under two, back under one", choices, "  - {id: a, say: x, only_if: [hard, extra], off: hose}\n  - {id: b, say: x, only_if: hard, back: hose}\n" + all, []string{
			"16:42: step b: \"hose\" under `back`, but it is not off at this step when `hard` is yes and `extra` no. Name it the same under `off` in an earlier step, or take it out here."}},
		{"off under one, back under two", choices, "  - {id: a, say: x, only_if: hard, off: hose}\n  - {id: b, say: x, only_if: hard, unless: extra, back: hose}\n" + all, []string{
			"15:41: question: step a leaves \"hose\" off to the end of the job when `hard` is yes and `extra` yes. Put it under `back` in the step that puts it right, unless the job ends so."}},
		{"a rag left in", choices, "  - {id: a, say: x, unless: hard, stuff: 2 rags}\n  - {id: b, say: x, unless: [hard, open], out: rags}\n" + all, []string{
			"15:42: step a leaves \"2 rags\" stuffed to the end of the job when `hard` is no and `open` yes. Put it under `out` in the step that puts it right."}},
		{"3 of 5 rags", choices, "  - {id: a, say: x, stuff: 5 rags}\n  - {id: b, say: x, only_if: hard, out: 2 rags}\n  - {id: c, say: x, out: 3 rags}\n" + all, []string{
			"15:28: step a leaves \"2 rags\" stuffed to the end of the job when `hard` is no. Put it under `out` in the step that puts it right."}},
		{"back twice on one path", choices, "  - {id: a, say: x, off: hose}\n  - {id: b, say: x, only_if: extra, back: hose}\n  - {id: c, say: x, back: hose}\n" + all, []string{
			"17:27: question: step c: \"hose\" under `back`, but it is not off at this step when `extra` is yes. Is it put right twice?"}},
		{"four of ten bolts", choices, "  - {id: a, say: x, loosen: 10 bolts}\n  - {id: b, say: x, only_if: hard, off: 4 bolts}\n  - {id: c, say: x, only_if: hard, by_hand: 4 bolts}\n  - {id: d, say: x, tight: 10 bolts}\n" + all, nil},
		{"a timer that never starts", choices, "  - {id: a, say: x, only_if: hard, timers: [{name: glue, minutes: 5}]}\n  - {id: b, say: x, await: glue}\n" + all, []string{
			"16:28: step b waits for the timer \"glue\", which never starts when `hard` is no. Give this step the conditions of the step that starts it."}},
		{"a level on one path", choices + "fluids: [{name: oil}]\n", "  - {id: a, say: x, drain: oil}\n  - {id: b, say: x, fill: oil}\n  - {id: c, say: x, only_if: hard, level: oil}\n" + all, []string{
			"17:27: question: step b fills \"oil\", and no step after it rechecks the level when `hard` is no. Name it under `level` of the step that does."}},
		{"engine over a rag", choices, "  - {id: a, say: x, only_if: open, stuff: rag, support: stand}\n  - {id: b, say: Start it., starts_engine: true}\n  - {id: c, say: x, only_if: open, out: rag, clear: stand}\n" + all, []string{
			"16:44: question: step b starts the engine while \"rag\" is stuffed when `open` is yes. Put it under `out` in an earlier step, or name it in what this step says."}},
		{"engine with a coil unplugged on purpose", choices, "  - {id: a, say: x, disconnect: 4 coil connectors}\n  - {id: b, say: Crank it with the coil connectors off., starts_engine: true}\n  - {id: c, say: x, connect: coil connectors}\n" + all, nil},
		{"road test on stands", choices, "  - {id: a, say: x, off: tray}\n  - {id: b, say: Drive it., road_test: true}\n  - {id: c, say: x, back: tray}\n" + all, []string{
			"16:40: question: step b is a road test while \"tray\" is off. Put it under `back` in an earlier step, or name it in what this step says."}},
		{"cover over an open plug", choices + "covers: [{part: tray, hides: [plug, oil filter]}]\n", "  - {id: a, say: x, off: [tray, oil filter], loosen: plug}\n  - {id: b, say: x, only_if: hard, tight: plug}\n  - {id: c, say: x, back: [oil filter, tray]}\n  - {id: d, say: x, unless: hard, tight: plug}\n" + all, []string{
			"18:40: step c: \"tray\" goes back over \"plug\", which is still loose when `hard` is no. Put \"plug\" under `tight` in an earlier step."}},
		{"a name under covers", "covers: [{part: tray, hides: oil filtre}]\n", "  - {id: a, say: x, off: [tray, oil filter]}\n  - {id: c, say: x, back: [oil filter, tray]}\n", []string{
			"11:30: question: no step takes \"oil filtre\" off, opens or loosens it. Did you mean `oil filter`?"}},
		{"covers in a ring", "covers: [{part: a, hides: b}, {part: b, hides: a}]\n", "  - {id: a, say: x, off: [a, b]}\n  - {id: c, say: x, back: [a, b]}\n", []string{
			"11:17: question: a hides b hides a in a ring: each waits for the other. Take one of them out of `hides`."}},
		{"never done", choices, "  - {id: a, say: x, only_if: hard, unless: hard}\n" + all, []string{
			"15:30: question: step a is never done: it needs `hard` to be yes and no. Take one of them out."}},
		{"a choice of nothing", choices, "  - {id: a, say: x, only_if: [hard, extra]}\n", []string{
			"11:91: question: no step depends on the choice `open`. Name it under `only_if` or `unless` of a step, or take it out."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := mistakesIn(headed(c.head, c.lines))
			for i := range got {
				got[i] = strings.TrimPrefix(got[i], "job.yaml:")
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("mistakes\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(c.want, "\n\t"))
			}
		})
	}
}

// A draft is asked about, never refused.
func TestCheck_draft(t *testing.T) {
	p, mistakes := procedures.Load("job.yaml", []byte("draft: true\n"+small+"    back: cover\n    stuff: rag\n"))
	if p == nil || len(mistakes) != 3 {
		t.Errorf("read as %v with %v", p, mistakes)
	}
}

// options is a procedure of n choices, each of a step that takes something off and a
// later one that puts it back.
func options(n int, off, back func(i int, s *procedures.Step)) *procedures.Procedure {
	p := &procedures.Procedure{ID: "options"}
	steps := make([]procedures.Step, 2*n)
	for i := range n {
		id := fmt.Sprintf("c%d", i)
		p.Choices = append(p.Choices, procedures.Choice{ID: id, Ask: "Is it?"})
		for j, s := range []*procedures.Step{&steps[i], &steps[n+i]} {
			s.ID, s.Say, s.OnlyIf = fmt.Sprintf("s%d-%d", j, i), "Do it.", []procedures.Premise{{Choice: id}}
		}
		off(i, &steps[i])
		back(i, &steps[n+i])
	}
	p.Steps = steps
	return p
}

// independent has its own thing for each of the choices, and one for all.
func independent(n int) *procedures.Procedure {
	p := options(n, func(i int, s *procedures.Step) {
		s.Off, s.Stuff = []string{fmt.Sprintf("part %d", i)}, []string{"2 rags"}
		s.Out = s.Stuff
	}, func(i int, s *procedures.Step) { s.Back = []string{fmt.Sprintf("part %d", i)} })
	p.Steps = append(p.Steps, procedures.Step{ID: "start", Say: "Start it.", Starts: true})
	return p
}

// counted has rags for all choices, counted in and out by each.
func counted(n int) *procedures.Procedure {
	return options(n, func(_ int, s *procedures.Step) { s.Stuff = []string{"1 rag"} }, func(_ int, s *procedures.Step) { s.Out = []string{"1 rag"} })
}

// entangled has a fastener for all choices, which all matter to the end.
func entangled(n int) *procedures.Procedure {
	return options(n, func(_ int, s *procedures.Step) { s.Loosen, s.Off = []string{"1 nut"}, []string{"1 nut"} },
		func(_ int, s *procedures.Step) { s.ByHand, s.Tight = []string{"1 nut"}, []string{"1 nut"} })
}

func TestCheck_independentOptions(t *testing.T) {
	if got := procedures.Check(independent(40)); len(got) > 0 {
		t.Errorf("mistakes %v", got)
	}
	p := independent(40)
	p.Steps[40+17].Back = nil
	got := procedures.Check(p)
	if len(got) != 1 || got[0].What != `step s0-17 leaves "part 17" off to the end of the job when `+"`c17` is yes" {
		t.Errorf("mistakes %v", got)
	}
}

// Too many choices for one thing are told, not tried.
func TestCheck_entangledOptions(t *testing.T) {
	for _, p := range []*procedures.Procedure{entangled(10), counted(40)} {
		if got := procedures.Check(p); len(got) > 0 {
			t.Errorf("mistakes %v", got)
		}
	}
	p := counted(40)
	p.Steps[40].Out = []string{"2 rags"}
	if got := procedures.Check(p); !procedures.Refused(got) {
		t.Errorf("one rag too many out: mistakes %v", got)
	}
	for _, n := range []int{40, 300} {
		got := procedures.Check(entangled(n))
		if len(got) != 1 || got[0].Severity != procedures.Error || !strings.Contains(got[0].What, "`nut` depends on more choices than can be proved") {
			t.Errorf("%d choices: mistakes %v", n, got)
		}
	}
}

// What is proved choice by choice is right on every path.
func TestCheck_apart(t *testing.T) {
	proved := 0
	rapid.Check(t, func(t *rapid.T) {
		p := &procedures.Procedure{ID: "rags"}
		for i := range rapid.IntRange(1, 5).Draw(t, "choices") {
			p.Choices = append(p.Choices, procedures.Choice{ID: fmt.Sprintf("c%d", i)})
		}
		for i := range rapid.IntRange(1, 8).Draw(t, "steps") {
			s := procedures.Step{ID: fmt.Sprintf("s%d", i), Say: "Do it.", Starts: rapid.IntRange(0, 9).Draw(t, "starts") == 0}
			for range rapid.SampledFrom([]int{0, 1, 1, 1, 2}).Draw(t, "premises") {
				s.OnlyIf = append(s.OnlyIf, procedures.Premise{Choice: rapid.SampledFrom(p.Choices).Draw(t, "choice").ID, No: rapid.Bool().Draw(t, "no")})
			}
			text := []string{fmt.Sprintf("%d rags", rapid.IntRange(1, 3).Draw(t, "count"))}
			if rapid.Bool().Draw(t, "in") {
				s.Stuff = text
			}
			if len(s.Stuff) == 0 || rapid.Bool().Draw(t, "out") {
				s.Out = text
			}
			p.Steps = append(p.Steps, s)
		}
		if !procedures.Apart(p, "rag") {
			return
		}
		proved++
		for i := range 1 << len(p.Choices) {
			wrong := walk(p, func(choice string) bool { return i>>(choice[1]-'0')&1 != 0 })
			if len(wrong) > 0 {
				t.Fatalf("%s\nis wrong: %v", procedures.DraftOf(p).YAML(), wrong)
			}
		}
	})
	if proved == 0 {
		t.Error("nothing was ever proved")
	}
}

func BenchmarkCheck(b *testing.B) {
	for _, c := range []struct {
		name string
		p    *procedures.Procedure
	}{{"40_independent", independent(40)}, {"10_entangled", entangled(10)}, {"40_counted", counted(40)}, {"40_entangled", entangled(40)}, {"bundled", procedures.Bundled()[0]}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				procedures.Check(c.p)
			}
		})
	}
}
