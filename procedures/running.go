package procedures

import (
	"fmt"
	"slices"
	"strings"
)

// open asks about what is open from before a step that starts the engine to after
// it. With the engine started no rag, plug, finger-tight fastener, open joint or drained fluid
// may be about; on the road nothing at all. What the step itself speaks of is on purpose.
func (a *audit) open(index int, before, after account) (findings []finding) {
	step := &a.p.Steps[index]
	if !step.Starts && !step.Drives {
		return nil
	}
	for kind, h := range after.held {
		if h.from == nil || before.held[kind].from == nil || !step.Drives && !stopsEngine(kind) || step.mentions(h.from.key) {
			continue
		}
		item := h.item()
		path, what := "starts_engine", fmt.Sprintf("step %s starts the engine while %q is %s", step.ID, item, item.Kind.State)
		if step.Drives {
			path, what = "road_test", fmt.Sprintf("step %s is a road test while %q is %s", step.ID, item, item.Kind.State)
		}
		findings = append(findings, finding{fmt.Sprintf("steps[%d].%s", index, path), h.from.key + " " + item.Kind.Leave, Question, what,
			fmt.Sprintf("Put it under `%s` in an earlier step, or name it in what this step says", item.Kind.Undo)})
	}
	return findings
}

// stopsEngine reports whether no engine is started over a thing in this state.
func stopsEngine(kind int) bool {
	return slices.Contains([]string{"stuff", "plug", "by_hand", "disconnect", "drain"}, itemKinds[kind].Leave)
}

// maxInspected bounds how often things are looked at in steps in which the engine
// runs.
const maxInspected = 100_000

// mentions reports whether the step speaks of a thing: with all words of its name.
func (s *Step) mentions(key string) bool {
	texts := []string{s.Say, s.Title}
	for _, c := range s.Cautions {
		texts = append(texts, c.Say)
	}
	said := map[string]bool{}
	for _, word := range strings.FieldsFunc(strings.ToLower(strings.Join(texts, " ")), func(c rune) bool {
		return strings.ContainsRune(" ,.;:!?()", c)
	}) {
		said[singular(word)] = true
	}
	return !slices.ContainsFunc(strings.Fields(key), func(word string) bool { return !said[word] })
}

// timers reports waits for a timer that some path never starts. That a timer is
// unknown, or starts too late on all paths, is found where the file is read.
func (a *audit) timers() {
	starts := map[string][]int{}
	for i := range a.p.Steps {
		for _, timer := range a.p.Steps[i].Timers {
			starts[itemKey(timer.Name)] = append(starts[itemKey(timer.Name)], i)
		}
	}
	for i := range a.p.Steps {
		step := &a.p.Steps[i]
		for j, name := range step.Await {
			before := slices.DeleteFunc(slices.Clone(starts[itemKey(name)]), func(k int) bool { return k >= i })
			if len(before) == 0 {
				continue
			}
			t := trail[bool]{}
			for _, k := range before {
				t.add(k, &a.p.Steps[k], func(bool) (bool, []finding) { return true, nil })
			}
			t.add(i, step, func(started bool) (bool, []finding) {
				if started {
					return true, nil
				}
				return false, []finding{{fmt.Sprintf("steps[%d].await[%d]", i, j), "await", Error,
					fmt.Sprintf("step %s waits for the timer %q, which never starts", step.ID, name),
					"Give this step the conditions of the step that starts it"}}
			})
			follow(a, fmt.Sprintf("the timer `%s`", name), t, nil)
		}
	}
}

// levels asks about fluids that are filled and not rechecked.
func (a *audit) levels() {
	for _, fluid := range a.p.Fluids {
		key := itemKey(fluid.Name)
		t := trail[*entry]{end: func(filled *entry) []finding {
			if filled == nil {
				return nil
			}
			return []finding{{filled.path(), "level", Question,
				fmt.Sprintf("step %s fills %q, and no step after it rechecks the level", a.p.Steps[filled.step].ID, filled.name),
				"Name it under `level` of the step that does"}}
		}}
		fills := map[int]*entry{}
		for _, e := range a.mends[key] {
			if itemKinds[e.kind].Undo == "fill" {
				fills[e.step] = e
			}
		}
		for i := range a.p.Steps {
			step := &a.p.Steps[i]
			checked := slices.ContainsFunc(step.Level, func(name string) bool { return itemKey(name) == key })
			switch fill := fills[i]; {
			case checked:
				t.add(i, step, func(*entry) (*entry, []finding) { return nil, nil })
			case fill != nil:
				t.add(i, step, func(*entry) (*entry, []finding) { return fill, nil })
			}
		}
		follow(a, "the level of `"+fluid.Name+"`", t, nil)
	}
}
