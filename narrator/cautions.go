package narrator

import (
	"slices"

	"stepcaller/procedures"
)

// stepCaution is a caution as it stands in a job.
type stepCaution struct {
	procedures.Caution
	ofJob bool // it stands before the first step and holds for the whole job
}

// reply is an answer that a caution was given, once it was.
type reply struct {
	caution  string // as read aloud
	arrivals int    // how many came before it
}

// cautions lists what has to be said before the current step: of the job, what wants an answer; all of the step, the engine's start
// among it.
func (j *Job) cautions() []stepCaution {
	var all []stepCaution
	for _, c := range j.Procedure.Cautions {
		if c.Answer != "" {
			all = append(all, stepCaution{c, true})
		}
	}
	if j.unreached() {
		return all
	}
	step := &j.Procedure.Steps[j.Step]
	warned := !step.Starts
	for _, c := range step.Cautions {
		all = append(all, stepCaution{c, false})
		warned = warned || c.Answer == procedures.AllClear
	}
	if !warned {
		c, _ := procedures.StandardCautionNamed("clear-of-engine")
		all = append(all, stepCaution{procedures.Caution{Name: c.Name, Say: c.Say, Answer: c.Answer}, false})
	}
	return all
}

// allCautions lists what is to be minded now, the step's cautions before the job's.
func (j *Job) allCautions() []procedures.Caution {
	var step []procedures.Caution
	for _, c := range j.cautions() {
		if !c.ofJob {
			step = append(step, c.Caution)
		}
	}
	return append(step, j.Procedure.Cautions...)
}

// plainCautions lists those of the whole job that want no answer.
func (j *Job) plainCautions() []procedures.Caution {
	var plain []procedures.Caution
	for _, c := range j.Procedure.Cautions {
		if c.Answer == "" {
			plain = append(plain, c)
		}
	}
	return plain
}

// answered reports whether a caution wants no answer, or has it: where the table says so, for as long as it holds good, else since the step
// was last begun.
func (j *Job) answered(c stepCaution) bool {
	if c.Answer == "" {
		return true
	}
	entry, _ := procedures.StandardCautionNamed(c.Name)
	for _, r := range j.answers {
		if r.caution == c.Say && (c.ofJob || r.arrivals == len(j.Arrivals) || entry.Once && !j.lapsed(c, r.arrivals)) {
			return true
		}
	}
	return false
}

// lapsed reports whether an answer no longer holds that was given before an arrival: what held the vehicle or the engine up was taken away
// since, or the engine has run, so that power and pressure are back.
func (j *Job) lapsed(c stepCaution, arrivals int) bool {
	since := j.Arrivals[min(arrivals, len(j.Arrivals)):]
	if c.Answer != procedures.StandsSet && c.Answer != procedures.LiftLocked && c.Answer != procedures.EngineHeld {
		return slices.ContainsFunc(since, func(a Arrival) bool {
			step := &j.Procedure.Steps[a.Step]
			return !a.Shut && (step.Starts || step.Drives) && a.Step != j.Step
		})
	}
	var held procedures.Ledger
	for i := range j.Procedure.Steps {
		if step := &j.Procedure.Steps[i]; slices.ContainsFunc(step.Cautions, func(other procedures.Caution) bool { return other.Name == c.Name }) {
			held.Begin(i, &procedures.Step{Support: step.Support})
		}
	}
	return slices.ContainsFunc(since, func(a Arrival) bool {
		return !a.Shut && slices.ContainsFunc(j.Procedure.Steps[a.Step].Clear, func(name string) bool {
			return slices.ContainsFunc(held.Items(), func(it procedures.Item) bool { return it.Is(name, "supported") })
		})
	})
}

// pending is the caution that the current step waits for.
func (j *Job) pending() (stepCaution, bool) {
	if !j.Open() {
		return stepCaution{}, false
	}
	for _, c := range j.cautions() {
		if !j.answered(c) {
			return c, true
		}
	}
	return stepCaution{}, false
}

// Wants is the phrase that a caution waits for, "" when none does. Work on hold waits for nothing.
func (j *Job) Wants() procedures.Command {
	c, waits := j.pending()
	if !waits || j.Held() != nil {
		return ""
	}
	return c.Answer
}

// wait is the timer of a caution, nil where none runs or ran for it.
func (j *Job) wait(c stepCaution) *Timer {
	entry, _ := procedures.StandardCautionNamed(c.Name)
	for i := range j.Timers {
		t := &j.Timers[i]
		if t.Caution == c.Say && (c.ofJob || entry.Once || t.arrivals == len(j.Arrivals)) {
			return t
		}
	}
	return nil
}

// awaitAnswer reads a caution, and how much of the maker's wait is left where it runs.
func (d *decision) awaitAnswer(c stepCaution, at Moment) {
	switch t := d.job().wait(c); {
	case t == nil:
		d.say(d.words.answerWanted(c))
	case t.End() > at:
		d.say(d.words.caution(c.Caution) + " " + d.words.waitFirst(t.End().Since(at), c.Answer))
	default:
		d.say(d.words.caution(c.Caution) + " " + d.words.sayIt(c.Answer))
	}
}

// askCaution asks once more for the answer that the step waits for, and reports whether it waits.
func (d *decision) askCaution(at Moment) bool {
	c, waits := d.job().pending()
	if waits {
		d.awaitAnswer(c, at)
	}
	return waits
}

// answerCaution takes the phrase that a caution waits for, and goes on to what it kept back. Where the maker asks for a wait, the phrase
// said first begins it: the minutes count from when the power is off, not from when the caution was read.
func (d *decision) answerCaution(h Heard) {
	j := d.job()
	c, waits := j.pending()
	if !waits || string(c.Answer) != h.Word {
		return
	}
	switch t := j.wait(c); {
	case c.Wait > 0 && t == nil:
		d.record(j.ID, h.From, Timed, Detail{Step: j.Procedure.Steps[j.Step].ID, Timer: string(c.Answer), Caution: c.Say, Length: Minutes(c.Wait)})
		d.changed(h)
		d.say(d.words.waitFirst(Minutes(c.Wait), c.Answer))
		return
	case t != nil && t.End() > h.From:
		d.say(d.words.waitFirst(t.End().Since(h.From), c.Answer))
		return
	}
	at := 0
	for i, other := range j.cautions() {
		if other.Say == c.Say && !j.answered(other) {
			at = i
			break
		}
	}
	d.record(j.ID, h.From, Answered, Detail{Step: j.Procedure.Steps[j.Step].ID, Caution: c.Say, Word: h.Word})
	d.changed(h)
	if c.Answer == procedures.LiftLocked { // "lift unlocked" sounds much like it
		d.say(d.words.taken(c.Answer))
	}
	d.tell(h.From, at+1)
}

// isCautionAnswer reports whether a word answers a caution: such a word is never taken on a bare yes.
func isCautionAnswer(word string) bool {
	m, ok := procedures.MeaningOf(procedures.Command(word))
	return ok && m.Group == procedures.Cautions
}

// warning is what a caution says: its own words as the procedure has them, those of the table in the shop's language.
func (w wording) warning(c procedures.Caution) string {
	if c.Name != "" {
		return w.F(c.Say)
	}
	return c.Say
}

func (w wording) caution(c procedures.Caution) string { return w.F("Caution. %s", full(w.warning(c))) }

func (w wording) answerWanted(c stepCaution) string {
	if c.Wait > 0 {
		return w.caution(c.Caution) + " " + w.F("Then say: %s. Wait %s, and say it again.", c.Answer, w.length(Minutes(c.Wait)))
	}
	return w.caution(c.Caution) + " " + w.F("Then say: %s.", c.Answer)
}

func (w wording) sayIt(answer procedures.Command) string { return w.F("Say: %s.", answer) }

func (w wording) taken(answer procedures.Command) string { return w.F("Taken: %s.", answer) }

func (w wording) waitFirst(left Span, answer procedures.Command) string {
	return capital(w.F("%s left. Then say: %s.", w.length(left), answer))
}

func (w wording) phraseAgain(word string) string { return w.F("%s? Say it again.", capital(word)) }
