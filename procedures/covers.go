package procedures

import (
	"fmt"
	"slices"
	"strings"
)

// covers reports parts that go back over something that is still open.
func (a *audit) covers() {
	for i, cover := range a.p.Covers {
		part, known := itemKey(cover.Part), a.touched(fmt.Sprintf("covers[%d].part", i), cover.Part)
		for j, hidden := range cover.Hides {
			if a.touched(fmt.Sprintf("covers[%d].hides[%d]", i, j), hidden) && known && itemKey(hidden) != part {
				follow(a, fmt.Sprintf("`%s` over `%s`", cover.Part, hidden), a.pair(part, itemKey(hidden)), nil)
			}
		}
	}
	a.loops()
}

// touched asks about a name of `covers` that no step has.
func (a *audit) touched(path, name string) bool {
	if key := itemKey(name); a.leaves[key] != nil || a.mends[key] != nil {
		return true
	}
	mend := "Name it as the steps do, or take it out"
	if a.suggested++; a.suggested <= 20 {
		if near := nearest(itemKey(name), a.keys); near != "" {
			mend = fmt.Sprintf("Did you mean `%s`?", a.name(near))
		}
	}
	a.mistake(path, Question, fmt.Sprintf("no step takes %q off, opens or loosens it", name), mend)
	return false
}

// pair is the trail of a part together with one thing that it hides.
func (a *audit) pair(part, hidden string) trail[[2]account] {
	t := trail[[2]account]{}
	above, below := a.work(part, nil), a.work(hidden, nil)
	for len(above)+len(below) > 0 {
		step := len(a.p.Steps)
		for _, list := range [][]work{above, below} {
			if len(list) > 0 {
				step = min(step, list[0].step)
			}
		}
		over, under := takeWork(&above, step), takeWork(&below, step)
		t.add(step, &a.p.Steps[step], func(before [2]account) (after [2]account, findings []finding) {
			after = before
			if over != nil {
				after[0], _ = over.do(before[0])
			}
			if under != nil {
				after[1], _ = under.do(before[1])
			}
			if over != nil && refitted(before[0], after[0]) {
				findings = a.buried(*over, after[1])
			}
			return after, findings
		})
	}
	return t
}

// takeWork takes the work of a step off the head of a list, nil where it has none.
func takeWork(list *[]work, step int) *work {
	if len(*list) == 0 || (*list)[0].step != step {
		return nil
	}
	first := &(*list)[0]
	*list = (*list)[1:]
	return first
}

// refitted reports whether something that was off, open or unplugged no longer is,
// or fewer of it are.
func refitted(before, after account) bool {
	for kind, h := range before.held {
		switch itemKinds[kind].Leave {
		case "off", "open", "disconnect":
			if now := after.held[kind]; h.from != nil && (now.from == nil || now.count < h.count) {
				return true
			}
		}
	}
	return false
}

// buried is what is wrong with a part that goes back over a thing.
func (a *audit) buried(over work, thing account) []finding {
	for _, h := range thing.holdings() {
		item := h.item()
		if item.Kind.Leave == "drain" || item.Kind.Leave == "support" {
			continue
		}
		moved := slices.Concat(over.mends, over.leaves)[0]
		path, name := moved.path(), moved.name
		return []finding{{path, "over " + item.key, Error,
			fmt.Sprintf("step %s: %q goes back over %q, which is still %s", a.p.Steps[over.step].ID, name, item, item.Kind.State),
			fmt.Sprintf("Put %q under `%s` in an earlier step", item.Name, item.Kind.Undo)}}
	}
	return nil
}

// loops asks about parts that hide each other.
func (a *audit) loops() {
	hides := map[string][]string{}
	for _, cover := range a.p.Covers {
		for _, hidden := range cover.Hides {
			hides[itemKey(cover.Part)] = append(hides[itemKey(cover.Part)], itemKey(hidden))
		}
	}
	done := map[string]bool{}
	for i, cover := range a.p.Covers {
		if loop := loopFrom(itemKey(cover.Part), hides, done, nil); loop != nil {
			a.mistake(fmt.Sprintf("covers[%d].part", i), Question,
				fmt.Sprintf("%s in a ring: each waits for the other", strings.Join(loop, " hides ")), "Take one of them out of `hides`")
		}
	}
}

// loopFrom is a ring of parts that can be reached from one, nil where there is none
// or it was found already.
func loopFrom(part string, hides map[string][]string, done map[string]bool, way []string) []string {
	if i := slices.Index(way, part); i >= 0 {
		return append(way[i:], part)
	}
	if done[part] {
		return nil
	}
	done[part] = true
	for _, hidden := range hides[part] {
		if loop := loopFrom(hidden, hides, done, append(way, part)); loop != nil {
			return loop
		}
	}
	return nil
}
