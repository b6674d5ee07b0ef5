package procedures

import "fmt"

// settle gives every value what follows from others: counts that were left out,
// the torques of stages, the choices that steps ask for themselves.
func (r *reader) settle(p *Procedure) {
	for i := range p.Steps {
		step, path := &p.Steps[i], fmt.Sprintf("steps[%d]", i)
		for j := range step.Torque {
			r.settleTightening(fmt.Sprintf("%s.torque[%d]", path, j), &step.Torque[j])
		}
		for j := range step.Loosening {
			step.Loosening[j].Count = max(1, step.Loosening[j].Count)
		}
		ask, own := r.questions[path]
		if !own {
			continue
		}
		for j := range step.OnlyIf {
			if step.OnlyIf[j].Choice == "" {
				step.OnlyIf[j].Choice = step.ID
			}
		}
		if _, taken := p.Choice(step.ID); taken && step.ID != "" {
			at := path + ".only_if"
			if _, written := r.places[at]; !written {
				at = path + ".unless"
			}
			r.report(at, r.places[at], Error, fmt.Sprintf("the question of step %q needs its id, which is a choice already", step.ID),
				"Give the step another id, or name the choice")
			continue
		}
		p.Choices = append(p.Choices, Choice{ID: step.ID, Ask: ask})
	}
}

// settleTightening takes a count that was left out from the names and lengths,
// and reports lists of another length.
func (r *reader) settleTightening(path string, t *Tightening) {
	for _, list := range []struct {
		key   string
		texts []string
	}{{"positions", t.Positions}, {"lengths", t.Lengths}} {
		at, n := path+"."+list.key, len(list.texts)
		switch {
		case n == 0:
		case t.Count == 0:
			t.Count = n
		case t.Count != n:
			r.report(at, r.places[at], Error, fmt.Sprintf("%d %s for %d fasteners", n, list.key, t.Count),
				"Give as many as there are, in the order of their numbers")
		}
	}
	t.Count = max(1, t.Count)
	if at := path + ".angle"; t.Angle > 0 {
		for _, s := range t.Stages {
			if s.Angle > 0 {
				r.report(at, r.places[at], Error, fmt.Sprintf("an angle here, and %s under `stages`", s.Name), "Keep one of them")
				break
			}
		}
	}
	t.settleStages()
}
