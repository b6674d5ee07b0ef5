package procedures

import "slices"

// apart reports whether a thing is whole because it is so for each group of choices
// by itself: rags that are counted in and out again by 40 choices need not be followed through
// all of them together. It holds for counted things in one state, whose numbers add up: where no group ever takes
// out more than it has put in, neither do all.
func (a *audit) apart(key string) bool {
	leaves, mends := a.leaves[key], a.mends[key]
	if len(leaves) == 0 || slices.ContainsFunc(slices.Concat(leaves, mends), func(e *entry) bool { return e.count == 0 }) ||
		slices.ContainsFunc(leaves, func(e *entry) bool { return e.kind != leaves[0].kind }) ||
		slices.ContainsFunc(mends, func(e *entry) bool { return itemKinds[e.kind].Undo != itemKinds[leaves[0].kind].Undo }) {
		return false
	}
	all := a.work(key, a.running)
	groups := choiceGroups{}
	for _, w := range all {
		groups.join(a.p.Steps[w.step].OnlyIf)
	}
	trails := map[string]*trail[account]{}
	for _, w := range all {
		group := groups.of(a.p.Steps[w.step].OnlyIf)
		if trails[group] == nil && len(w.leaves)+len(w.mends) > 0 {
			trails[group] = &trail[account]{end: a.left}
		}
	}
	for group, t := range trails {
		for _, w := range all {
			step := &a.p.Steps[w.step]
			if groups.of(step.OnlyIf) != group {
				if !step.Starts && !step.Drives {
					continue
				}
				w.leaves, w.mends = nil, nil
			}
			t.add(w.step, step, a.does(w))
		}
		if p := t.follow(inquiry{visits: &a.visits}); p.stuck >= 0 || len(p.found) > 0 {
			return false
		}
	}
	return true
}

// choiceGroups joins choices that stand in one step: each leads to another of its
// group, or to none.
type choiceGroups map[string]string

func (g choiceGroups) find(id string) string {
	for g[id] != "" {
		id = g[id]
	}
	return id
}

func (g choiceGroups) join(premises []Premise) {
	for _, p := range premises {
		if first, other := g.find(premises[0].Choice), g.find(p.Choice); first != other {
			g[other] = first
		}
	}
}

// of is the group of a step, "" for one that is always done.
func (g choiceGroups) of(premises []Premise) string {
	if len(premises) == 0 {
		return ""
	}
	return g.find(premises[0].Choice)
}
