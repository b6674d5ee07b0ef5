package procedures

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Reassembly is the procedure with the refit of everything that it leaves off, open, loose or stuffed, step by step in
// reverse order and on every path that its choices open: a draft, each new step with a comment to review. Fasteners
// that come back are started by hand before they are tightened; where they were slackened in an earlier step, they are
// tightened in the place of that. Torques and quantities are asked for in comments, never given. A teardown by itself leaves
// rags and stands to its end: its file is loaded as a draft.
func Reassembly(p *Procedure) Draft {
	r := refitting{audit: newAudit(p), d: DraftOf(p), steps: map[refitKey]*refit{}}
	r.loosened()
	for _, key := range r.keys {
		t := r.thing(key)
		t.end = nil
		end := t.follow(inquiry{keep: true, visits: &r.visits})
		if end.stuck >= 0 {
			r.d.Notes = append(r.d.Notes, fmt.Sprintf("%s depends on too many choices: write its refit by hand.", r.name(key)))
			continue
		}
		var met []holding
		for _, w := range end.worlds {
			for _, h := range w.state.holdings() {
				if !slices.Contains(met, h) {
					met = append(met, h)
					r.conditions(h, end.worlds, answers{}, t.choices)
				}
			}
		}
	}
	r.write()
	return r.d
}

// refitting gathers the steps of a reassembly.
type refitting struct {
	*audit
	d      Draft
	loose  map[string]int // step that slackened a fastener first, by key
	steps  map[refitKey]*refit
	hidden map[string]bool // keys that a part covers
}

// refitKey is the place of a refit step.
type refitKey struct {
	step  int    // that it reverses
	later bool   // it comes second, after the one of the same step
	needs string // premises
}

type refit struct {
	refitKey
	needs []Premise
	held  []holding // to put right; fasteners only to start by hand
	tight []holding // fasteners that were started by hand
}

// loosened notes which fasteners were slackened where, and what parts hide.
func (r *refitting) loosened() {
	r.loose, r.hidden = map[string]int{}, map[string]bool{}
	for key, entries := range r.leaves {
		for _, e := range slices.Backward(entries) {
			if e.list == "loosen" {
				r.loose[key] = e.step
			}
		}
	}
	for _, c := range r.p.Covers {
		for _, name := range c.Hides {
			r.hidden[itemKey(name)] = true
		}
	}
}

// conditions enters a holding under the fewest premises that hold in just those worlds
// in which the thing is held so.
func (r *refitting) conditions(h holding, worlds []world[account], given answers, choices []string) {
	held, asked := 0, choiceSet{}
	var possible []world[account]
	for _, w := range worlds {
		both := w.knows.known.and(given.known)
		if w.knows.yes.and(both) != given.yes.and(both) {
			continue
		}
		possible = append(possible, w)
		asked = asked.or(w.knows.known)
		if w.state.held[h.from.kind] == h {
			held++
		}
	}
	switch {
	case held == 0:
		return
	case held == len(possible):
		var needs []Premise
		for i, id := range choices {
			if yes, known := given.says(i); known {
				needs = append(needs, Premise{id, !yes})
			}
		}
		r.enter(h, needs)
		return
	}
	for i := range choices {
		if asked.has(i) && !given.known.has(i) {
			r.conditions(h, possible, given.with(i, true), choices)
			r.conditions(h, possible, given.with(i, false), choices)
			return
		}
	}
}

// enter gives a holding its place.
func (r *refitting) enter(h holding, needs []Premise) {
	first := r.at(h.from.step, itemKinds[h.from.kind].Leave == "drain", needs) // a fluid after its plug
	first.held = append(first.held, h)
	if itemKinds[h.from.kind].Leave != "off" || !r.threaded(h.from.key) {
		return
	}
	second := r.at(h.from.step, true, needs)
	if step, slack := r.loose[h.from.key]; slack && step < h.from.step && !r.hidden[h.from.key] {
		second = r.at(step, false, needs)
	}
	second.tight = append(second.tight, h)
}

func (r *refitting) at(step int, later bool, needs []Premise) *refit {
	key := refitKey{step, later, fmt.Sprint(needs)}
	if r.steps[key] == nil {
		r.steps[key] = &refit{refitKey: key, needs: needs}
	}
	return r.steps[key]
}

// threaded reports whether a thing that was off is a fastener: it was slackened, has
// a torque, or is called so.
func (r *refitting) threaded(key string) bool {
	if _, slack := r.loose[key]; slack {
		return true
	}
	for i := range r.p.Steps {
		if slices.ContainsFunc(r.p.Steps[i].Torque, func(t Tightening) bool { return itemKey(t.Fastener) == key }) ||
			slices.ContainsFunc(r.p.Steps[i].Loosening, func(l Loosening) bool { return itemKey(l.Fastener) == key }) {
			return true
		}
	}
	words := strings.Fields(key)
	return slices.Contains([]string{"bolt", "nut", "screw", "stud", "capscrew", "setscrew", "fastener", "plug", "union"}, words[len(words)-1])
}

// write adds the refit steps, the last thing taken off first.
func (r *refitting) write() {
	var all []*refit
	for _, f := range r.steps {
		if len(f.held)+len(f.tight) > 0 {
			all = append(all, f)
		}
	}
	slices.SortFunc(all, func(a, b *refit) int {
		later := 0
		if a.later != b.later {
			later = 1
			if b.later {
				later = -1
			}
		}
		return cmp.Or(cmp.Compare(b.step, a.step), later, cmp.Compare(a.refitKey.needs, b.refitKey.needs))
	})
	for _, f := range all {
		r.d.Steps = append(r.d.Steps, r.step(f))
	}
	if len(all) > 0 {
		r.d.Notes = append([]string{fmt.Sprintf("A program wrote the steps after %s from those before, in reverse. Nobody has reviewed them.", r.p.Steps[len(r.p.Steps)-1].ID),
			"Torques, quantities and what is renewed: from the maker's service data."}, r.d.Notes...)
	}
}

// step is a refit step.
func (r *refitting) step(f *refit) DraftStep {
	from := &r.p.Steps[f.step]
	s := DraftStep{Step: Step{ID: from.ID[:min(len(from.ID), 50)] + "-back", OnlyIf: f.needs, Operations: from.Operations, Tools: from.Tools},
		Doubts: []string{fmt.Sprintf("review: step %s in reverse", from.ID)}}
	slices.SortFunc(f.held, func(a, b holding) int { return older(b, a) })
	for _, h := range f.held {
		name := h.item().String()
		switch itemKinds[h.from.kind].Leave {
		case "disconnect":
			s.Connect = append(s.Connect, name)
		case "loosen", "by_hand":
			s.tighten(h)
		case "off":
			if r.threaded(h.from.key) {
				s.ByHand = append(s.ByHand, name)
			} else {
				s.Back = append(s.Back, name)
			}
		case "open":
			s.Shut = append(s.Shut, name)
		case "plug", "stuff":
			s.Out = append(s.Out, name)
		case "drain":
			s.Fill = append(s.Fill, name)
			s.Doubts = append(s.Doubts, fmt.Sprintf("%s: how much, by which specification? Recheck its level after the engine has run", name))
		case "support":
			s.Clear = append(s.Clear, name)
		}
	}
	for _, h := range f.tight {
		s.tighten(h)
	}
	s.Say = s.refitWords()
	return s
}

// tighten adds a fastener, whose torque is to be looked up.
func (s *DraftStep) tighten(h holding) {
	s.Tight = append(s.Tight, h.item().String())
	s.Torque = append(s.Torque, Tightening{Fastener: h.from.name, Count: max(1, h.count)})
}

// refitWords says what the step puts right, in the order in which it is done.
func (s *Step) refitWords() string {
	var sentences []string
	for _, c := range []struct {
		form  string
		names []string
	}{
		{"Take %s out.", s.Out}, {"Put %s back.", s.Back}, {"Connect %s.", s.Connect}, {"Start %s by hand.", s.ByHand},
		{"Tighten %s.", s.Tight}, {"Close %s.", s.Shut}, {"Fill %s.", s.Fill}, {"Take %s away.", s.Clear},
	} {
		var named []string
		for _, name := range c.names {
			named = append(named, "the "+strings.TrimPrefix(strings.TrimPrefix(name, "1 "), "the "))
		}
		switch n := len(named); {
		case n == 1:
			sentences = append(sentences, fmt.Sprintf(c.form, named[0]))
		case n > 1:
			sentences = append(sentences, fmt.Sprintf(c.form, strings.Join(named[:n-1], ", ")+" and "+named[n-1]))
		}
	}
	text := strings.Join(sentences, " ")
	if utf8.RuneCountInString(text) > maxText {
		return "Put everything right that this step lists."
	}
	return text
}
