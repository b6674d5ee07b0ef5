package procedures_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepcaller/procedures"
)

// whole fails where a teardown with its reassembly is not proved whole.
func whole(t interface{ Fatalf(string, ...any) }, p *procedures.Procedure) {
	file := procedures.Reassembly(p).YAML()
	got, mistakes := procedures.Load("draft.yaml", file)
	if got == nil {
		t.Fatalf("refused: %v\n%s", mistakes, file)
	}
	got.Draft = false
	for _, m := range procedures.Check(got) {
		for _, wrong := range []string{" leaves ", " under ", "goes back over", "more choices"} {
			if strings.Contains(m.What, wrong) {
				t.Fatalf("%v\n%s", m, file)
			}
		}
	}
}

func TestReassembly_bundled(t *testing.T) {
	for _, p := range procedures.Bundled() {
		for n := 1; n <= len(p.Steps); n++ {
			teardown := *p
			teardown.Steps = p.Steps[:n]
			whole(t, &teardown)
		}
	}
}

func TestReassembly_random(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := randomProcedure(t)
		p.Covers = nil
		for i := range p.Steps {
			s := &p.Steps[i]
			s.Back, s.Connect, s.Tight, s.Shut, s.Out, s.Fill, s.Clear, s.Await = nil, nil, nil, nil, nil, nil, nil, nil
			if i > 0 {
				s.Timers = nil
			}
			s.Level = nil
		}
		whole(t, p)
	})
}

func TestReassembly(t *testing.T) {
	p, mistakes := procedures.Load("job.yaml", []byte(headed("draft: true\nchoices: [{id: hard, ask: Is it hard?}]\ncovers: [{part: tray, hides: drain plug}]\n", `    loosen: 5 wheel nuts
  - {id: raised, say: x, support: 4 stands, tools: jack}
  - {id: wheel, say: x, off: [5 wheel nuts, wheel]}
  - {id: tray, say: x, off: [tray, 6 tray screws], loosen: drain plug}
  - {id: drained, say: x, off: drain plug, drain: coolant}
  - {id: hose, say: x, only_if: hard, disconnect: hose, stuff: 1 rag}
`)))
	if p == nil {
		t.Fatal(mistakes)
	}
	whole(t, p)
	file := string(procedures.Reassembly(p).YAML())
	_, refit, _ := strings.Cut(file, "    stuff: 1 rag\n")
	want := `  # review: step hose in reverse
  - id: hose-back
    say: Take the rag out. Connect the hose.
    only_if: hard
    connect: hose
    out: 1 rag
  # review: step drained in reverse
  - id: drained-back
    say: Start the drain plug by hand.
    by_hand: drain plug
  # review: step drained in reverse
  # coolant: how much, by which specification? Recheck its level after the engine has run
  # torque for drain plug: value from the maker's service data
  - id: drained-back-2
    say: Tighten the drain plug. Fill the coolant.
    tight: drain plug
    fill: coolant
  # review: step tray in reverse
  - id: tray-back
    say: Put the tray back. Start the 6 tray screws by hand.
    by_hand: 6 tray screws
    back: tray
  # review: step tray in reverse
  # torque for tray screws, 6 of them: value from the maker's service data
  - id: tray-back-2
    say: Tighten the 6 tray screws.
    tight: 6 tray screws
  # review: step wheel in reverse
  - id: wheel-back
    say: Put the wheel back. Start the 5 wheel nuts by hand.
    by_hand: 5 wheel nuts
    back: wheel
  # review: step raised in reverse
  - id: raised-back
    say: Take the 4 stands away.
    tools: jack
    clear: 4 stands
  # review: step one in reverse
  # torque for wheel nuts, 5 of them: value from the maker's service data
  - id: one-back
    say: Tighten the 5 wheel nuts.
    tight: 5 wheel nuts
`
	if refit != want {
		t.Errorf("the refit is\n%s\nwant\n%s", refit, want)
	}
}
