package procedures

import "fmt"

// checkWords asks about what a step says in its words alone: an engine that is started with nobody asked to stand clear, a torque that cannot
// be asked for, gone round or recorded.
func checkWords(p *Procedure) []Mistake {
	var mistakes []Mistake
	for i := range p.Steps {
		step := &p.Steps[i]
		ask := func(what, mend string) {
			mistakes = append(mistakes, p.mistake(fmt.Sprintf("steps[%d].say", i), Question, what, mend))
		}
		if startsEngine.MatchString(step.Say) && !notYet.MatchString(step.Say) && !step.Starts && !step.Drives {
			ask(fmt.Sprintf("step %s starts the engine in its words alone", step.ID),
				"Write `starts_engine: true`, so that everybody stands clear first")
		}
		if m := torqueWritten.FindStringSubmatch(step.Say); m != nil && len(step.Torque) == 0 {
			ask(fmt.Sprintf("step %s names %s %s in its words alone", step.ID, m[1], m[4]),
				"Write it under `torque` too, so that it can be asked for and is recorded")
		}
	}
	return mistakes
}
