package procedures_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"stepcaller/procedures"
)

// grouped is the small file with these lines after its first step.
func grouped(t *testing.T, lines string) *procedures.Procedure {
	t.Helper()
	p, mistakes := procedures.Load("job.yaml", []byte(small+lines))
	if procedures.Refused(mistakes) {
		t.Fatal(mistakes)
	}
	return p
}

func TestLoad_group(t *testing.T) {
	for _, c := range []struct {
		name, lines string
		want        []string // the steps after the first: id and what is said
	}{
		{"a list", "  - each: {side: [left, right]}\n    steps:\n      - {id: off, say: 'Take the {side} wheel off.'}\n      - {id: '{side}-on', say: 'Put it on.'}\n",
			[]string{"off-left Take the left wheel off.", "left-on Put it on.", "off-right Take the right wheel off.", "right-on Put it on."}},
		{"a range", "  - each: {cylinder: 2 to 4}\n    steps: [{id: plug, say: 'Plug {cylinder}.'}]\n",
			[]string{"plug-2 Plug 2.", "plug-3 Plug 3.", "plug-4 Plug 4."}},
		{"numbers", "  - each: {cylinder: [1, 3]}\n    steps: [{id: plug, say: 'Plug {cylinder}.'}]\n",
			[]string{"plug-1 Plug 1.", "plug-3 Plug 3."}},
		{"blanks in an id", "  - each: {wheel: [front left]}\n    steps: [{id: 'nuts-{wheel}', say: 'Nuts, {wheel}.'}]\n",
			[]string{"nuts-front-left Nuts, front left."}},
		{"nested", "  - each: {side: [left, right]}\n    steps:\n      - each: {pad: ['{side} inner', '{side} outer']}\n        steps: [{id: pad, say: 'The {pad} pad.'}]\n      - {id: done, say: 'The {side} is done.'}\n",
			[]string{"pad-left-left-inner The left inner pad.", "pad-left-left-outer The left outer pad.", "done-left The left is done.",
				"pad-right-right-inner The right inner pad.", "pad-right-right-outer The right outer pad.", "done-right The right is done."}},
		{"braces outside of a group", "  - {id: two, say: 'The {side} one.'}\n", []string{"two The {side} one."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, s := range grouped(t, c.lines).Steps[1:] {
				got = append(got, s.ID+" "+s.Say)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("steps %q, want %q", got, c.want)
			}
		})
	}
}

// Every text of a step takes the group's value.
func TestLoad_groupTexts(t *testing.T) {
	p := grouped(t, `  - each: {side: [left]}
    steps:
      - id: one-{side}
        say: Do the {side}.
        title: It, {side}
        only_if: Is the {side} hose hard?
        tools: "{side} tool"
        parts: [{name: "{side} pad"}]
        cautions: "The {side} is hot."
        off: ["{side} caliper"]
        torque: [{fastener: "{side} bolt", value: 10 N·m, positions: ["{side} front"]}]
        timers: [{name: "{side} glue", minutes: 1}]
        readings: [{name: "{side} disc", positions: ["{side} in", "{side} out"]}]
      - {id: back, say: x, only_if: 'one-{side}', back: "{side} caliper", await: "{side} glue"}
`)
	s := p.Steps[1]
	got := fmt.Sprint(s.Say, s.Title, s.Tools, s.Parts, s.Cautions, s.Off, s.Torque[0].Fastener, s.Torque[0].Positions,
		s.Timers[0].Name, s.Readings[0].Name, s.Readings[0].Positions, p.Choices[0].Ask, p.Steps[2].Await)
	if strings.Contains(got, "{side}") || strings.Count(got, "left") != 14 {
		t.Errorf("read as %s", got)
	}
	if p.Choices[0].ID != "one-left" || p.Steps[1].OnlyIf[0].Choice != "one-left" {
		t.Errorf("choices %+v, premises %+v", p.Choices, p.Steps[1].OnlyIf)
	}
}

func TestLoad_groupMistakes(t *testing.T) {
	for _, c := range []struct {
		name, lines string
		want        []string // all of them, with their place after the file's name
	}{
		{"once for all repeats", "  - each: {side: [left, right]}\n    steps:\n      - {id: a, say: 'x {side}', tourque: [], off: '{side} hose'}\n",
			[]string{"16:34: unknown key `tourque`. Did you mean `torque`?"}},
		{"two at one place", "  - each: {n: 1 to 3}\n    steps:\n      - title: x\n", []string{
			"16:9: step 2 has no `id`. Add it: name of the step, unique in the procedure.",
			"16:9: step 2 has no `say`. Add it: what is read aloud: one action in a short sentence."}},
		{"left off by every repeat", "  - each: {side: [left, right]}\n    steps:\n      - {id: a, say: x, off: '{side} hose'}\n",
			[]string{"16:30: question: step a-left leaves \"left hose\" off to the end of the job. Put it under `back` in the step that puts it right, unless the job ends so."}},
		{"one repeat only", "  - each: {side: [left, right]}\n    steps:\n      - {id: 'a-{side}', say: x}\n  - {id: a-right, say: x}\n",
			[]string{"17:10: step id \"a-right\" is already the id of step 3. Give every step an id of its own."}},
		{"unknown name", "  - each: {side: [left, right]}\n    steps:\n      - {id: a, say: 'The {sied} one.'}\n",
			[]string{"16:22: nothing is called {sied} in this group. Did you mean `side`?"}},
		{"two names", "  - each: {a: [x], b: [y]}\n    steps: [{id: a, say: x}]\n",
			[]string{"14:12: `each` should be one name with its values. Write it as `side: [left, right]`; a group within the group takes a second name."}},
		{"no list", "  - each: {side: left}\n    steps: [{id: a, say: x}]\n",
			[]string{"14:18: \"left\" is no list and no range. Write a list such as [left, right], or a range such as 1 to 4."}},
		{"backwards", "  - each: {n: 4 to 1}\n    steps: [{id: a, say: x}]\n", []string{"14:15: the range 4 to 1 runs backwards. Write 1 to 4."}},
		{"empty list", "  - each: {n: []}\n    steps: [{id: a, say: x}]\n", []string{"14:15: `n` has no values. List them, such as [left, right]."}},
		{"value twice", "  - each: {n: [a, a]}\n    steps: [{id: a, say: x}]\n", []string{"14:19: \"a\" stands here twice. Keep one of them."}},
		{"braces in a value", "  - each: {n: ['{a}']}\n    steps: [{id: a, say: x}]\n", []string{"14:16: \"{a}\" cannot be put into a text. Use up to 60 characters without braces."}},
		{"name with capitals", "  - each: {Side: [a]}\n    steps: [{id: a, say: x}]\n", []string{"14:12: \"Side\" cannot be the name of a group's value. Use small letters and underscores."}},
		{"same name within", "  - each: {n: [a]}\n    steps:\n      - each: {n: [b]}\n        steps: [{id: a, say: x}]\n", []string{"16:16: {n} is given by the group around this one. Use another name."}},
		{"three deep", "  - each: {a: [a]}\n    steps:\n      - each: {b: [b]}\n        steps:\n          - each: {c: [c]}\n            steps: [{id: a, say: x}]\n",
			[]string{"18:13: a group three deep. Write the innermost steps out, or make two groups of it."}},
		{"key of a step", "  - each: {n: [a]}\n    say: x\n    steps: [{id: a, say: x}]\n", []string{"15:5: unknown key `say`. Known here: each, steps."}},
		{"no steps", "  - each: {n: [a]}\n", []string{"14:5: group 1 has no `steps`. Add it: the steps, with `{name}` where each value goes."}},
		{"too many steps", "  - each: {a: 1 to 80}\n    steps:\n      - each: {b: 1 to 80}\n        steps: [{id: a, say: x}]\n",
			[]string{"16:9: with the 80 steps of the group for each b there are more than 5000. Split the job into several procedures."}},
		{"timer of one name", "  - each: {side: [left, right]}\n    steps: [{id: a, say: x, timers: [{name: glue, minutes: 1}]}]\n",
			[]string{"15:45: timer \"glue\" is already started by step 2. Give every timer a name of its own; in a group, write the group's {name} into it."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := checked(t, c.lines); !slices.Equal(got, c.want) {
				t.Errorf("mistakes\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(c.want, "\n\t"))
			}
		})
	}
}
