package procedures

import (
	"fmt"
	"strings"
)

// Check looks for what is wrong or doubtful in a procedure as a whole, on every path
// that its choices open. Errors: a thing comes back that was never away, or over
// something that is still open; a plug, rag, support or finger-tight fastener is left
// in; a timer is awaited that never started. Questions: something stays off, open, loose
// or drained; the engine starts over a rag; a level is not rechecked; a torque looks like a
// slip. In a draft the errors are questions. They come in the order of the file, those
// in a group once. Check never changes a value. Load calls it.
func Check(p *Procedure) []Mistake {
	return once(append(checkLedger(p), checkTorque(p)...), p.masks)
}

// mistake is a mistake in the procedure at the value of this path, or at the
// nearest value around it whose place is known.
func (p *Procedure) mistake(path string, severity Severity, what, mend string) Mistake {
	for {
		if at, known := p.places[path]; known {
			return Mistake{p.name, at.line, at.column, severity, what, mend}
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut < 0 {
			return Mistake{p.name, 0, 0, severity, what, mend}
		}
		path = path[:cut]
	}
}

// checkTorque asks about torque values that look like a slip of the pen.
func checkTorque(p *Procedure) []Mistake {
	var mistakes []Mistake
	ask := func(step, entry int, what, mend string) {
		path := fmt.Sprintf("steps[%d].torque[%d].value", step, entry)
		mistakes = append(mistakes, p.mistake(path, Question, what, mend))
	}
	earlier := map[string]Torque{}
	for i := range p.Steps {
		for j, t := range p.Steps[i].Torque {
			if t.Value == (Torque{}) {
				continue // it could not be read, and was reported
			}
			if first := p.Steps[i].Torque[0].Value; j > 0 && first.Unit() != t.Value.Unit() {
				ask(i, j, fmt.Sprintf("step %s has torques in %s and in %s", p.Steps[i].ID, first.Unit(), t.Value.Unit()),
					"Is that on purpose?")
			}
			name := itemKey(t.Fastener)
			before, again := earlier[name]
			switch meant, slipped := twelvefold(t); {
			case slipped:
				ask(i, j, fmt.Sprintf("%s is far from usual for %s", t.Value, t.Fastener),
					fmt.Sprintf("Should it be %s?", meant))
			case again && twelveApart(before, t.Value):
				ask(i, j, fmt.Sprintf("%s has %s here and %s earlier, twelve times apart", t.Fastener, t.Value, before),
					"Is one of them in inches?")
			default:
				if what := pastProof(t); what != "" {
					ask(i, j, what, "Is it right? A value that stretches the bolt on purpose has its `angle` beside it")
				}
			}
			earlier[name] = t.Value
		}
	}
	return mistakes
}
