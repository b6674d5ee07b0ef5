package narrator

import "stepcaller/procedures"

// Answers lists the words that answer what is being asked, in canonical form: those of the question, or the phrase that a caution
// waits for. It is nil where nothing is asked.
func (b *Bay) Answers() []string {
	if j := b.Job(); b.Dialogue.Question.Kind == NoQuestion && j != nil && j.Open() {
		if answer := j.Wants(); answer != "" {
			return []string{string(answer)}
		}
	}
	return b.Dialogue.Question.answers(b.Settings)
}

// Figure is one reading that a step asks for, at one place.
type Figure struct {
	Reading  *procedures.Reading
	Position string       // "" for the only place
	Taken    *Measurement // nil for not yet
}

// Figures lists the readings of the current step, in order.
func (j *Job) Figures() []Figure {
	var all []Figure
	for _, s := range j.slots(j.Step) {
		all = append(all, Figure{s.reading, s.position, j.taken(j.Step, s)})
	}
	return all
}

// Tight reports whether a turn of the current step was said to be done.
func (j *Job) Tight(at Turn) bool {
	s := &j.Procedure.Steps[j.Step]
	p := j.progress[place{s.ID, s.Torque[at.Entry].Fastener}]
	return p != nil && p.done[Turn{Stage: s.RoundsBefore(at.Entry) + at.Stage, Number: at.Number}]
}

// NextTurn is the first turn of a tightening of the current step that is not done; more is false once all are.
func (j *Job) NextTurn(entry int) (next Turn, more bool) { return j.nextTurn(j.Step, entry) }

// Torque writes a torque in the unit and the figures of the shop.
func (s Settings) Torque(t procedures.Torque) string { return wording{s.Tongue, s}.torqueIn(t) }

// Caution is the caution that waits for its answer, as read aloud; "" for none.
func (j *Job) Caution() string {
	c, _ := j.pending()
	return c.Say
}
