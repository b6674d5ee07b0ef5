package procedures

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// audit is the proof of a whole procedure: one trail for each thing, pair of things,
// timer and fluid.
type audit struct {
	p             *Procedure
	leaves, mends map[string][]*entry // by key of the name, in the order of the steps
	keys          []string            // in the order in which they come first
	visits        int                 // left for the proof
	spare         int                 // left for finding the shortest way of putting a mistake
	running       []int               // steps that start the engine or drive the vehicle
	inspected     int                 // how often a thing was looked at in one of them
	suggested     int                 // how often a name was looked for that is like another
	stuck         bool                // the visits were used up, and it was reported
	mistakes      []Mistake
}

// checkLedger proves that on every path all that goes off comes back, and what else
// hangs on the order of steps.
func checkLedger(p *Procedure) []Mistake {
	a := newAudit(p)
	a.premises()
	for _, key := range a.keys {
		follow(a, "`"+a.name(key)+"`", a.thing(key), func() bool { return a.apart(key) })
	}
	if a.inspected > maxInspected {
		a.mistake(fmt.Sprintf("steps[%d]", a.running[0]), Question,
			fmt.Sprintf("the engine runs in %d steps, with too much to look at before each", len(a.running)), "Split the procedure")
	}
	a.covers()
	a.timers()
	a.levels()
	return a.mistakes
}

func newAudit(p *Procedure) *audit {
	a := &audit{p: p, leaves: map[string][]*entry{}, mends: map[string][]*entry{}, visits: maxVisits, spare: maxVisits}
	for i := range p.Steps {
		if p.Steps[i].Starts || p.Steps[i].Drives {
			a.running = append(a.running, i)
		}
		for _, e := range leavings(i, &p.Steps[i]) {
			a.meet(e.key)
			a.leaves[e.key] = append(a.leaves[e.key], e)
		}
		for _, e := range mendings(i, &p.Steps[i]) {
			a.meet(e.key)
			a.mends[e.key] = append(a.mends[e.key], e)
		}
	}
	return a
}

// meet notes a key once.
func (a *audit) meet(key string) {
	if a.leaves[key] == nil && a.mends[key] == nil {
		a.keys = append(a.keys, key)
	}
}

// name is how the steps write a key first.
func (a *audit) name(key string) string {
	var first *entry
	for _, list := range [][]*entry{a.leaves[key], a.mends[key]} {
		if len(list) > 0 && (first == nil || list[0].step < first.step) {
			first = list[0]
		}
	}
	return first.name
}

// follow proves one trail and reports what it shows. Where that is too much, otherwise
// may prove in another way that nothing is wrong; nil for no other way.
func follow[S comparable](a *audit, name string, t trail[S], otherwise func() bool) {
	p := t.follow(inquiry{visits: &a.visits})
	if p.stuck >= 0 {
		if a.visits < 0 && a.stuck || otherwise != nil && otherwise() {
			return
		}
		what := fmt.Sprintf("at step %s %s depends on more choices than can be proved: on more than %d, or in more than %d ways",
			a.p.Steps[p.stuck].ID, name, maxChoices, maxWorlds)
		if a.visits < 0 {
			a.stuck = true
			what = fmt.Sprintf("the choices hang together in too many ways to prove, more than %d in all, up to %s at step %s", maxVisits, name, a.p.Steps[p.stuck].ID)
		}
		a.mistake(fmt.Sprintf("steps[%d]", p.stuck), Error, what, "Give the things of each choice names of their own, or split the procedure")
		return
	}
	for _, f := range p.found {
		when := f.when
		if len(a.mistakes) < maxMistakes {
			when = t.simplest(f, &a.spare)
		}
		a.mistake(f.path, f.severity, f.what+a.path(t.choices, when), f.mend)
	}
}

// mistake reports; a draft is never refused.
func (a *audit) mistake(path string, severity Severity, what, mend string) {
	if a.p.Draft {
		severity = Question
	}
	a.mistakes = append(a.mistakes, a.p.mistake(path, severity, what, mend))
}

// path says for which answers something holds: " when `hard` is yes and `extra` no".
func (a *audit) path(choices []string, when answers) string {
	var known []int
	for i := range choices {
		if when.known.has(i) {
			known = append(known, i)
		}
	}
	slices.SortStableFunc(known, func(x, y int) int { return cmp.Compare(a.rank(choices[x]), a.rank(choices[y])) })
	var parts []string
	for _, i := range known {
		answer := "no"
		if when.yes.has(i) {
			answer = "yes"
		}
		if len(parts) == 0 {
			answer = "is " + answer
		}
		parts = append(parts, fmt.Sprintf("`%s` %s", choices[i], answer))
	}
	switch n := len(parts); n {
	case 0:
		return ""
	case 1:
		return " when " + parts[0]
	default:
		return " when " + strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
}

// rank is where a choice stands in the procedure.
func (a *audit) rank(id string) int {
	return slices.IndexFunc(a.p.Choices, func(c Choice) bool { return c.ID == id })
}

// thing is the trail of one thing.
func (a *audit) thing(key string) trail[account] {
	t := trail[account]{end: a.left}
	running := a.running
	if len(a.mistakes) >= maxMistakes || a.inspected > maxInspected {
		running = nil
	}
	for _, w := range a.work(key, running) {
		t.add(w.step, &a.p.Steps[w.step], a.does(w))
	}
	return t
}

// does is a step's work with what is wrong about it.
func (a *audit) does(w work) func(account) (account, []finding) {
	return func(before account) (account, []finding) {
		after, slips := w.do(before)
		return after, append(a.slips(w.step, slips), a.open(w.step, before, after)...)
	}
}

// work is what one step does to one thing: nothing where the engine only starts.
type work struct {
	step          int
	leaves, mends []*entry
}

// do enters the step's work.
func (w work) do(thing account) (account, []Slip) {
	for _, e := range w.leaves {
		thing.leave(e)
	}
	var slips []Slip
	for _, e := range w.mends {
		if slip, ok := thing.undo(e); !ok {
			slips = append(slips, slip)
		}
	}
	return thing, slips
}

// work lists what the steps do to a thing, in order, and after the first of them the
// steps in which the engine runs.
func (a *audit) work(key string, running []int) []work {
	leaves, mends := a.leaves[key], a.mends[key]
	var all []work
	next := func(list *[]*entry, step int) (taken []*entry) {
		for len(*list) > 0 && (*list)[0].step == step {
			taken, *list = append(taken, (*list)[0]), (*list)[1:]
		}
		return taken
	}
	for len(leaves)+len(mends) > 0 || len(running) > 0 {
		step := len(a.p.Steps)
		for _, list := range [][]*entry{leaves, mends} {
			if len(list) > 0 {
				step = min(step, list[0].step)
			}
		}
		if len(running) > 0 && running[0] <= step {
			if running[0] < step && len(all) == 0 {
				running = running[1:]
				continue
			}
			step, running = running[0], running[1:]
			a.inspected++
		}
		all = append(all, work{step, next(&leaves, step), next(&mends, step)})
	}
	return all
}

// slips are entries that put right what was not left so.
func (a *audit) slips(step int, slips []Slip) (findings []finding) {
	for _, slip := range slips {
		f := finding{fmt.Sprintf("steps[%d].%s[%d]", step, slip.Key, slip.Entry), "slip", Question,
			fmt.Sprintf("step %s: %s", a.p.Steps[step].ID, slip.What), "Is it put right twice?"}
		if !slip.Known {
			f.severity = Error
			f.mend = fmt.Sprintf("Name it the same under `%s` in an earlier step, or take it out here", leaveKeys(slip.Key))
		}
		findings = append(findings, f)
	}
	return findings
}

// left is what a thing's account says of it when all steps are done.
func (a *audit) left(thing account) (findings []finding) {
	for _, h := range thing.holdings() {
		item := h.item()
		f := finding{h.from.path(), "left", Question,
			fmt.Sprintf("step %s leaves %q %s to the end of the job", a.p.Steps[item.Step].ID, item, item.Kind.State),
			fmt.Sprintf("Put it under `%s` in the step that puts it right", item.Kind.Undo)}
		if item.Kind.Temporary {
			f.severity = Error
		} else {
			f.mend += ", unless the job ends so"
		}
		findings = append(findings, f)
	}
	return findings
}

// leaveKeys names the lists that a verb undoes: "loosen or by_hand" for tight.
func leaveKeys(verb string) string {
	var keys []string
	for _, kind := range itemKinds {
		if kind.Undo == verb {
			keys = append(keys, kind.Leave)
		}
	}
	return strings.Join(keys, "` or `")
}

// premises asks about steps that no answers open, and about choices that open none.
func (a *audit) premises() {
	used := map[string]bool{}
	for i := range a.p.Steps {
		step := &a.p.Steps[i]
		for _, p := range step.OnlyIf {
			used[p.Choice] = true
			if !p.No && slices.Contains(step.OnlyIf, Premise{p.Choice, true}) {
				a.mistake(fmt.Sprintf("steps[%d].only_if", i), Question,
					fmt.Sprintf("step %s is never done: it needs `%s` to be yes and no", step.ID, p.Choice), "Take one of them out")
			}
		}
	}
	for i, c := range a.p.Choices {
		if !used[c.ID] {
			a.mistake(fmt.Sprintf("choices[%d].id", i), Question, fmt.Sprintf("no step depends on the choice `%s`", c.ID),
				"Name it under `only_if` or `unless` of a step, or take it out")
		}
	}
}
