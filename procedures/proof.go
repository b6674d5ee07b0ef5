package procedures

import (
	"math/bits"
	"slices"
)

// The proof over every path. A choice of the procedure opens some of its steps and
// shuts others, so that n choices make 2ⁿ jobs. They are not listed: each thing is
// followed by itself through the steps that touch it, as the set of worlds in which it
// may be. A world splits where a step asks a choice that it does not know, keeps what it
// knows only as long as a later step that touches the thing asks again, and is merged with
// others that no later step can tell from it.

// What a proof may cost. No job of a workshop comes near; a file made to be slow is
// told where it becomes so.
const (
	maxChoices = 64 * len(choiceSet{}) // that one thing may depend on
	maxWorlds  = 4096                  // of one thing at one step
	maxVisits  = 100_000               // of worlds to steps, in one procedure
)

// choiceSet holds choices by the number that a trail gives them.
type choiceSet [4]uint64

func (s choiceSet) has(i int) bool { return s[i/64]>>(i%64)&1 != 0 }

func (s *choiceSet) set(i int, in bool) {
	s[i/64] &^= 1 << (i % 64)
	if in {
		s[i/64] |= 1 << (i % 64)
	}
}

func (s choiceSet) and(o choiceSet) choiceSet {
	for i := range s {
		s[i] &= o[i]
	}
	return s
}

func (s choiceSet) or(o choiceSet) choiceSet {
	for i := range s {
		s[i] |= o[i]
	}
	return s
}

// size is how many choices the set holds.
func (s choiceSet) size() (n int) {
	for _, word := range s {
		n += bits.OnesCount64(word)
	}
	return n
}

// answers are choices with their answers. The zero value knows none.
type answers struct{ known, yes choiceSet }

// says is the answer to a choice, and whether it is known.
func (a answers) says(i int) (yes, known bool) { return a.yes.has(i), a.known.has(i) }

// with adds one answer.
func (a answers) with(i int, yes bool) answers {
	a.known.set(i, true)
	a.yes.set(i, yes)
	return a
}

// without takes one answer away.
func (a answers) without(i int) answers {
	a.known.set(i, false)
	a.yes.set(i, false)
	return a
}

// among keeps the answers to some choices.
func (a answers) among(s choiceSet) answers { return answers{a.known.and(s), a.yes.and(s)} }

// and joins the answers of both, which must not contradict.
func (a answers) and(o answers) answers { return answers{a.known.or(o.known), a.yes.or(o.yes)} }

// premise is one condition of a step, with the trail's number for its choice.
type premise struct {
	choice int
	yes    bool
}

// act is what one step does to the thing that a trail follows.
type act[S comparable] struct {
	step  int
	needs []premise // all must hold
	do    func(S) (S, []finding)
}

// finding is a mistake that a step makes on some path.
type finding struct {
	path     string // in the file; with kind it tells findings apart
	kind     string
	severity Severity
	what     string // to be followed by the path
	mend     string
}

// trail follows one thing, or a few that belong together, through all steps that
// touch them.
type trail[S comparable] struct {
	choices []string // by number
	numbers map[string]int
	acts    []act[S]
	end     func(S) []finding // what is wrong when all steps are done; nil for nothing
}

// add appends a step's act. Steps come in their order.
func (t *trail[S]) add(index int, step *Step, do func(S) (S, []finding)) {
	a := act[S]{step: index, do: do}
	for _, p := range step.OnlyIf {
		if t.numbers == nil {
			t.numbers = map[string]int{}
		}
		i, met := t.numbers[p.Choice]
		if !met {
			i = len(t.choices)
			t.numbers[p.Choice] = i
			t.choices = append(t.choices, p.Choice)
		}
		if need := (premise{i, !p.No}); !slices.Contains(a.needs, need) {
			a.needs = append(a.needs, need)
		}
	}
	t.acts = append(t.acts, a)
}

// world is one way in which things may stand between two steps.
type world[S comparable] struct {
	knows answers // what later steps ask again
	state S
	hit   bool // what is sought was found on the way
}

// found is a finding with the answers that lead to it, whatever the others are.
type found struct {
	finding
	when answers
}

// proof is what following a trail shows.
type proof[S comparable] struct {
	worlds []world[S]        // at the end
	ways   []answers         // beside them: answers that lead there, whatever the others are
	found  []found           // each once
	at     map[[2]string]int // index in found, by path and kind
	stuck  int               // step at which there were too many worlds, -1 for none
}

// inquiry says how a trail is followed.
type inquiry struct {
	given  answers  // only paths with these answers
	sought *finding // worlds keep whether they met it; nil for none
	keep   bool     // worlds forget no answer
	visits *int     // how many visits are left
}

// follow carries every world through every step.
func (t *trail[S]) follow(q inquiry) proof[S] {
	if len(t.choices) > maxChoices {
		return proof[S]{stuck: t.acts[0].step}
	}
	asked := make([]choiceSet, len(t.acts)+1) // by the acts from this one on
	for i := len(t.acts) - 1; i >= 0; i-- {
		asked[i] = asked[i+1]
		for _, need := range t.acts[i].needs {
			asked[i].set(need.choice, true)
		}
	}
	p := proof[S]{worlds: make([]world[S], 1), ways: []answers{q.given}, stuck: -1}
	for i, a := range t.acts {
		next := gathering[S]{}
		for j, w := range p.worlds {
			if *q.visits--; *q.visits < 0 && len(p.worlds) > 1 || len(next.worlds) > maxWorlds {
				return proof[S]{stuck: a.step}
			}
			way := p.ways[j]
			for _, branch := range a.split(w.knows, q.given) {
				b := world[S]{w.knows.and(branch.adds), w.state, w.hit}
				if branch.open {
					var findings []finding
					b.state, findings = a.do(w.state)
					p.note(findings, way.and(branch.adds), q.sought, &b.hit)
				}
				if !q.keep {
					b.knows = b.knows.among(asked[i+1])
				}
				next.add(b, way.and(branch.adds))
			}
		}
		p.worlds, p.ways = next.worlds, next.ways
	}
	if t.end != nil {
		for j := range p.worlds {
			p.note(t.end(p.worlds[j].state), p.ways[j], q.sought, &p.worlds[j].hit)
		}
	}
	return p
}

// note keeps each finding once: its worst, then the one with the fewest answers.
func (p *proof[S]) note(findings []finding, when answers, sought *finding, hit *bool) {
	for _, f := range findings {
		if sought != nil {
			*hit = *hit || f == *sought
			continue
		}
		i, met := p.at[[2]string{f.path, f.kind}]
		switch {
		case !met:
			if p.at == nil {
				p.at = map[[2]string]int{}
			}
			p.at[[2]string{f.path, f.kind}] = len(p.found)
			p.found = append(p.found, found{f, when})
		case f.severity < p.found[i].severity,
			f.severity == p.found[i].severity && when.known.size() < p.found[i].when.known.size():
			p.found[i] = found{f, when}
		}
	}
}

// branch is one way on from a step.
type branch struct {
	adds answers // to what the world knows
	open bool    // the step is done
}

// split lists the ways on from a step for somebody who knows some answers.
func (a *act[S]) split(knows, given answers) []branch {
	if len(a.needs) == 0 {
		return []branch{{open: true}}
	}
	knows = knows.and(given)
	var ways []branch
	var adds answers
	for _, need := range a.needs {
		yes, known := knows.and(adds).says(need.choice)
		switch {
		case known && yes == need.yes:
		case known:
			return append(ways, branch{adds, false})
		default:
			ways = append(ways, branch{adds.with(need.choice, !need.yes), false})
			adds = adds.with(need.choice, need.yes)
		}
	}
	return append(ways, branch{adds, true})
}

// gathering collects worlds, those that are alike once.
type gathering[S comparable] struct {
	worlds []world[S]
	ways   []answers
	at     map[world[S]]int
}

func (g *gathering[S]) add(w world[S], way answers) {
	if g.at == nil {
		if len(g.worlds) == 0 {
			g.worlds, g.ways = append(g.worlds, w), append(g.ways, way)
			return
		}
		g.at = map[world[S]]int{g.worlds[0]: 0}
	}
	if i, met := g.at[w]; met {
		if way.known.size() < g.ways[i].known.size() {
			g.ways[i] = way
		}
		return
	}
	g.at[w] = len(g.worlds)
	g.worlds, g.ways = append(g.worlds, w), append(g.ways, way)
}

// simplest is the finding's answers without those that do not matter to it.
func (t *trail[S]) simplest(f found, visits *int) answers {
	when := f.when
	for i := range t.choices {
		if !when.known.has(i) {
			continue
		}
		p := t.follow(inquiry{given: when.without(i), sought: &f.finding, visits: visits})
		if p.stuck < 0 && !slices.ContainsFunc(p.worlds, func(w world[S]) bool { return !w.hit }) {
			when = when.without(i)
		}
	}
	return when
}
