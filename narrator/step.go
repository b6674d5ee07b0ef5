package narrator

import "stepcaller/procedures"

// move goes to the next step that is to be done, or to the one before. What the current step still asks for comes first.
func (d *decision) move(h Heard, back bool) {
	j := d.job()
	if back {
		to := j.before()
		if to < 0 {
			d.reply(replyFirstStep)
			return
		}
		d.arrive(h, Detail{Step: j.Procedure.Steps[to].ID, Back: true})
		return
	}
	if d.askCaution(h.From) || d.askReadings(h) {
		return
	}
	d.stepOn(h)
}

// stepOn leaves the current step. The choices on the way are asked first; steps that are not to be done are passed over.
func (d *decision) stepOn(h Heard) {
	j := d.job()
	to := j.Step
	if !j.unreached() {
		to++
	}
	done := j.done()
	for ; to < len(j.Procedure.Steps); to++ {
		if done[to] && to+1 < j.Return {
			continue
		}
		gate, c := j.gate(to, true)
		if gate == GateUndecided {
			d.askChoice(h, c)
			return
		}
		if gate == GateOpen {
			break
		}
	}
	switch {
	case to == len(j.Procedure.Steps):
		d.reply(replyLastStep)
	default:
		missed := d.words.torqueMissed(j)
		d.say(missed)
		if missed == "" && j.wrenchInHand(to) {
			d.reply(replyWrenchBack)
		}
		d.arrive(h, Detail{Step: j.Procedure.Steps[to].ID})
	}
}

// arrive makes a step the current one and tells it.
func (d *decision) arrive(h Heard, to Detail) {
	j := d.job()
	left := j.Step
	d.record(j.ID, h.From, Arrived, to)
	if !to.Back {
		d.startTimers(left, procedures.AtEnd, h.From)
	}
	d.changed(h)
	d.tell(h.From, 0)
}

// tell reads the current step to somebody who has just come to it: its cautions from one on, and what to do. It stops at a
// caution that wants an answer.
func (d *decision) tell(at Moment, from int) {
	for i, c := range d.job().cautions() {
		if i < from || c.ofJob && d.job().answered(c) {
			continue
		}
		if !d.job().answered(c) {
			d.awaitAnswer(c, at)
			return
		}
		d.say(d.words.caution(c.Caution))
	}
	d.begin(at)
}

// begin reads what to do: from here on the step is being done.
func (d *decision) begin(at Moment) {
	j := d.job()
	if j.unreached() {
		d.stepOn(Heard{Word: string(procedures.Next), From: at, To: at, At: d.now, Sure: true})
		return
	}
	step := &j.Procedure.Steps[j.Step]
	if step.Drives {
		d.drive(at)
		return
	}
	d.explainSides(at)
	d.sayAll(d.words.await(j, at))
	d.say(d.words.say(j))
	d.say(d.words.again(j))
	d.startTimers(j.Step, procedures.AtBegin, at)
}

// goOn does what was to follow once a question is dealt with; h is the word that dealt with it.
func (d *decision) goOn(q Question, h Heard) {
	switch q.Then {
	case thenStep:
		d.stepOn(q.Word)
	case thenReadings, thenReadingsAgain:
		d.readOn(q, h)
	}
}

// What may follow a question.
type sequel string

const (
	thenNothing       sequel = ""
	thenStep          sequel = "step"           // the next step
	thenReadings      sequel = "readings"       // the next reading that is not taken
	thenReadingsAgain sequel = "readings again" // the next reading
)

// step reads the current step again: its cautions first, each on its own, then what to do; or only the caution that
// wants an answer.
func (w wording) step(j *Job) []string {
	if j.Dictation != nil {
		return []string{w.dictatedStep(j)}
	}
	if c, waits := j.pending(); waits {
		return []string{w.answerWanted(c)}
	}
	if j.unreached() {
		_, c := j.gate(j.Step, false)
		return []string{c.Ask}
	}
	var texts []string
	for _, c := range j.cautions() {
		if !c.ofJob {
			texts = append(texts, w.caution(c.Caution))
		}
	}
	return append(texts, w.say(j))
}

// say says what to do.
func (w wording) say(j *Job) string {
	return w.F("Step %d. %s", j.Step+1, full(j.Procedure.Steps[j.Step].Say))
}
