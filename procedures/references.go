package procedures

import "fmt"

// compare looks at what no single value can show: names that meet twice or lead
// nowhere, limits and hours that do not fit, and everything Check asks.
func (r *reader) compare(p *Procedure) {
	if p.Draft {
		r.report("draft", r.places["draft"], Question, "the procedure is a draft",
			"Review every step against the maker's service data, then take `draft: true` out")
	}
	r.compareNames(p)
	r.compareReferences(p)
	r.compareReadings(p)
	r.compareHours(p)
	if r.full() {
		return
	}
	if !r.touched("steps") && !r.touched("group") {
		r.mistakes = append(r.mistakes, checkLedger(p)...)
	}
	r.mistakes = append(r.mistakes, checkTorque(p)...)
	r.mistakes = append(r.mistakes, checkWords(p)...)
	r.mistakes = append(r.mistakes, checkAnswers(p)...)
}

// error reports an Error at a value that was read.
func (r *reader) error(path, what, mend string) {
	r.report(path, r.places[path], Error, what, mend)
}

// compareNames reports names that are given twice.
func (r *reader) compareNames(p *Procedure) {
	steps, timers := map[string]int{}, map[string]int{}
	for i := range p.Steps {
		path := fmt.Sprintf("steps[%d]", i)
		if id := p.Steps[i].ID; id != "" {
			if before, twice := steps[id]; twice {
				r.error(path+".id", fmt.Sprintf("step id %q is already the id of step %d", id, before+1), "Give every step an id of its own")
			} else {
				steps[id] = i
			}
		}
		for j, t := range p.Steps[i].Timers {
			key := itemKey(t.Name)
			if before, twice := timers[key]; twice && key != "" {
				mend := "Give every timer a name of its own"
				if r.repeated(path) {
					mend += "; in a group, write the group's {name} into it"
				}
				r.error(fmt.Sprintf("%s.timers[%d].name", path, j), fmt.Sprintf("timer %q is already started by step %d", t.Name, before+1), mend)
				continue
			}
			timers[key] = i
		}
	}
	choices := map[string]bool{}
	for i, c := range p.Choices {
		at := fmt.Sprintf("choices[%d].id", i)
		if _, listed := r.places[at]; listed && choices[c.ID] {
			r.error(at, fmt.Sprintf("choice id %q is taken already", c.ID), "Give every choice an id of its own")
		}
		choices[c.ID] = true
	}
	fluids := map[string]bool{}
	for i, f := range p.Fluids {
		if fluids[itemKey(f.Name)] && f.Name != "" {
			r.error(fmt.Sprintf("fluids[%d].name", i), fmt.Sprintf("fluid %q is listed already", f.Name), "Keep one of them")
		}
		fluids[itemKey(f.Name)] = true
	}
}

// repeated reports whether a value stands in a group.
func (r *reader) repeated(path string) bool {
	_, repeated := r.masks.outline(Mistake{Line: r.places[path].line})
	return repeated
}

// names are what a reference may name.
type names struct {
	known   map[string]bool // by what a name is compared by
	written []string
	key     func(string) string
	asked   int // times that a name was looked for in vain
}

// newNames starts an empty set; key is what two ways to write one name have in
// common.
func newNames(key func(string) string) *names { return &names{known: map[string]bool{}, key: key} }

func (s *names) add(name string) {
	if !s.known[s.key(name)] {
		s.written = append(s.written, name)
	}
	s.known[s.key(name)] = true
}

func (s *names) has(name string) bool { return s.known[s.key(name)] }

// mend suggests the nearest known name, or else what to do.
func (s *names) mend(name, otherwise string) string {
	s.asked++
	if s.asked > maxMistakes {
		return otherwise
	}
	if near := nearest(name, s.written[:min(len(s.written), maxSuggestions)]); near != "" {
		return fmt.Sprintf("Did you mean `%s`?", near)
	}
	return otherwise
}

// maxSuggestions bounds the names among which a misspelt one is looked for.
const maxSuggestions = 300

// asWritten is the key of names that must be written alike.
func asWritten(name string) string { return name }

// compareReferences reports names that nothing has.
func (r *reader) compareReferences(p *Procedure) {
	choices, codes, fluids := newNames(asWritten), newNames(asWritten), newNames(itemKey)
	for _, c := range p.Choices {
		choices.add(c.ID)
	}
	for _, op := range p.Book {
		codes.add(op.Code)
	}
	for _, f := range p.Fluids {
		fluids.add(f.Name)
	}
	timers, started := newNames(itemKey), newNames(itemKey)
	for i := range p.Steps {
		for _, t := range p.Steps[i].Timers {
			timers.add(t.Name)
		}
	}
	for i := range p.Steps {
		if r.full() {
			return
		}
		step, path := &p.Steps[i], fmt.Sprintf("steps[%d]", i)
		r.comparePremises(path, step.OnlyIf, choices)
		for j, code := range step.Operations {
			if !codes.has(code) {
				r.error(fmt.Sprintf("%s.operations[%d]", path, j), fmt.Sprintf("no operation has the code %q", code), codes.mend(code, "List it under `book`"))
			}
		}
		for j, name := range step.Level {
			if !fluids.has(name) {
				r.error(fmt.Sprintf("%s.level[%d]", path, j), fmt.Sprintf("no fluid is called %q", name), fluids.mend(name, "List it under `fluids`"))
			}
		}
		for j, name := range step.Await {
			switch at := fmt.Sprintf("%s.await[%d]", path, j); {
			case started.has(name):
			case timers.has(name):
				r.error(at, fmt.Sprintf("timer %q is not started before this step", name), "Wait for it in a later step, or start it in an earlier one")
			default:
				r.error(at, fmt.Sprintf("no timer is called %q", name), timers.mend(name, "Start it under `timers` of an earlier step"))
			}
		}
		for _, t := range step.Timers {
			started.add(t.Name)
		}
	}
}

// comparePremises reports the choices of a step that nothing asks for.
func (r *reader) comparePremises(path string, premises []Premise, choices *names) {
	entries := map[bool]int{} // of only_if, and of unless
	for _, premise := range premises {
		key := "only_if"
		if premise.No {
			key = "unless"
		}
		at := fmt.Sprintf("%s.%s[%d]", path, key, entries[premise.No])
		entries[premise.No]++
		if !choices.has(premise.Choice) && premise.Choice != "" {
			r.error(at, fmt.Sprintf("no choice is called %q", premise.Choice),
				choices.mend(premise.Choice, "List it under `choices`, or write the question here, with its question mark"))
		}
	}
}

// compareReadings reports limits that leave no good figure.
func (r *reader) compareReadings(p *Procedure) {
	for i := range p.Steps {
		for j, reading := range p.Steps[i].Readings {
			path := fmt.Sprintf("steps[%d].readings[%d]", i, j)
			least, most, wear := reading.Min, reading.Max, reading.Wear
			if least != nil && most != nil && least.GreaterThan(*most) {
				r.error(path+".min", fmt.Sprintf("a smallest figure of %s above the largest of %s", least, most), "Exchange the two")
				continue
			}
			switch {
			case wear == nil:
			case least == nil && most == nil:
				r.error(path+".wear", "a wear limit with neither `min` nor `max`", "Add the one that wear comes nearer to")
			case (least == nil || !wear.LessThan(*least)) && (most == nil || !wear.GreaterThan(*most)):
				r.error(path+".wear", fmt.Sprintf("a wear limit of %s among the good figures", wear), "It lies below `min` or above `max`")
			}
		}
	}
}

// compareHours reports an overlap that the book time does not allow.
func (r *reader) compareHours(p *Procedure) {
	var sum Hours
	for _, op := range p.Book {
		sum += op.Hours
	}
	switch {
	case p.Overlap > 0 && p.Overlap >= sum && !r.touched("book"):
		r.error("overlap", fmt.Sprintf("the overlap of %s h leaves nothing of the %s h under `book`", p.Overlap, sum), "Make it smaller")
	case p.Overlap > 0 && len(p.Book) == 1:
		r.report("overlap", r.places["overlap"], Question,
			"an overlap with only one operation", "List the other operation under `book`, or take the overlap out")
	}
}
