package procedures

import (
	"fmt"
	"slices"
)

// checkTorque asks about torque values that look like a slip of the pen.
func checkTorque(p *Procedure) []Mistake {
	var mistakes []Mistake
	ask := func(step, entry int, what, mend string) {
		path := fmt.Sprintf("steps[%d].torque[%d].value", step, entry)
		mistakes = append(mistakes, p.mistake(path, Question, what, mend))
	}
	earlier := map[string][]Tightening{} // the last that is low by design, the last that is not
	for i := range p.Steps {
		for j, t := range p.Steps[i].Torque {
			if t.Value == (Torque{}) {
				continue // it could not be read, and was reported
			}
			mistakes = append(mistakes, p.checkStages(fmt.Sprintf("steps[%d].torque[%d]", i, j), t)...)
			if first := p.Steps[i].Torque[0].Value; j > 0 && first.Unit() != t.Value.Unit() {
				ask(i, j, fmt.Sprintf("step %s has torques in %s and in %s", p.Steps[i].ID, first.Unit(), t.Value.Unit()),
					"Is that on purpose?")
			}
			name := itemKey(t.Fastener)
			apart := slices.IndexFunc(earlier[name], func(before Tightening) bool { return twelveApart(before, t) })
			switch meant, slipped := twelvefold(t); {
			case slipped:
				ask(i, j, fmt.Sprintf("%s is far from usual for %s", t.Value, t.Fastener),
					fmt.Sprintf("Should it be %s?", meant))
			case apart >= 0:
				ask(i, j, fmt.Sprintf("%s has %s here and %s earlier, twelve times apart", t.Fastener, t.Value, earlier[name][apart].Value),
					"Is one of them in inches?")
			default:
				if what := pastProof(t); what != "" {
					ask(i, j, what, "Is it right? A value that stretches the bolt on purpose has its `angle` beside it")
				}
			}
			earlier[name] = append(slices.DeleteFunc(earlier[name], func(before Tightening) bool {
				return before.lowByDesign() == t.lowByDesign()
			}), t)
		}
	}
	return mistakes
}

// checkStages asks about rounds in another unit than the full torque, those that do not climb to it, and bolts that are stretched and
// perhaps used again.
func (p *Procedure) checkStages(path string, t Tightening) []Mistake {
	var mistakes []Mistake
	ask := func(at, what, mend string) { mistakes = append(mistakes, p.mistake(at, Question, what, mend)) }
	var before Torque
	mixed := false
	for i, s := range t.Stages {
		at := fmt.Sprintf("%s.stages[%d]", path, i)
		switch {
		case s.Value == (Torque{}):
			continue
		case s.Value.Cmp(t.Value) > 0:
			ask(at, fmt.Sprintf("stage %d of %s is %s, more than the full %s", i+1, t.Fastener, s.Value, t.Value), "Which of them is right?")
		case before != (Torque{}) && s.Value.Cmp(before) < 0:
			ask(at, fmt.Sprintf("stage %d of %s falls from %s to %s", i+1, t.Fastener, before, s.Value), "Are the stages in order?")
		}
		if !mixed && s.Value.Unit() != t.Value.Unit() {
			ask(at, fmt.Sprintf("stage %d of %s is in %s, its full torque in %s", i+1, t.Fastener, s.Value.Unit(), t.Value.Unit()), "Is that on purpose?")
			mixed = true
		}
		before = s.Value
	}
	if before != (Torque{}) && before.Cmp(t.Value) < 0 {
		ask(path+".stages", fmt.Sprintf("the stages of %s end at %s, its full torque is %s", t.Fastener, before, t.Value), "Is a stage `full` missing?")
	}
	if _, said := p.places[path+".new"]; t.Angle > 0 && !t.New && !said {
		ask(path, fmt.Sprintf("%s is turned %d° further, which stretches it, and nothing says whether it is renewed", t.Fastener, t.Angle),
			"Write `new: true`, or `new: false` where the maker lets it be used again. Which is it?")
	}
	return mistakes
}
