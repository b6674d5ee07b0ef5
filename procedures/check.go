package procedures

import (
	"slices"
	"strings"
)

// Check looks for what is wrong or doubtful in a procedure as a whole, on every path
// that its choices open. Errors: a thing comes back that was never away, or over
// something that is still open; a plug, rag, support or finger-tight fastener is left
// in; a timer is awaited that never started. Questions: something stays off, open, loose
// or drained; the engine starts over a rag; a level is not rechecked; a torque looks like a
// slip. In a draft the errors are questions. They come in the order of the file, those
// in a group once. Check never changes a value. Load asks the same.
func Check(p *Procedure) []Mistake {
	return once(slices.Concat(checkLedger(p), checkTorque(p), checkWords(p), checkAnswers(p)), p.masks)
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
