package narrator

import "stepcaller/procedures"

// Decision is the answer to a choice of the procedure. Of several answers to one choice the last counts.
type Decision struct {
	Choice string // id
	Yes    bool
	At     Moment

	arrivals int // how many came before it
}

// Gate says whether a step is to be done in this job.
type Gate int

// The gates. A step of extra work is shut until somebody approves it.
const (
	GateOpen Gate = iota
	GateShut
	GateUndecided // a choice has to be made first
)

// lookTime is how long an answer may take for which somebody has to look, to measure or to count.
const lookTime = Minute

// Gate tells whether the step at an index is to be done.
func (j *Job) Gate(step int) Gate {
	gate, _ := j.gate(step, false)
	return gate
}

// gate names the choice that has to be made first as well. With again, a choice counts as not made when the job has since
// gone back to before its first step.
func (j *Job) gate(step int, again bool) (gate Gate, ask procedures.Choice) {
	for _, p := range j.Procedure.Steps[step].OnlyIf {
		c, _ := j.Procedure.Choice(p.Choice)
		made, ok := j.decision(p.Choice)
		switch {
		case !ok || again && j.passed(made):
			if gate == GateOpen {
				gate, ask = GateUndecided, c
			}
		case !j.holds(p, made, c):
			return GateShut, procedures.Choice{}
		}
	}
	return gate, ask
}

// holds reports whether a premise holds. Extra work that nobody has ruled on is neither done nor left out.
func (j *Job) holds(p procedures.Premise, made Decision, c procedures.Choice) bool {
	yes := made.Yes
	if yes && c.Approval {
		f := j.findingOf(c.ID)
		if f == nil || f.Ruled == 0 {
			return false
		}
		yes = f.Approved
	}
	return yes != p.No
}

func (j *Job) decision(choice string) (Decision, bool) {
	for i := len(j.Decisions) - 1; i >= 0; i-- {
		if j.Decisions[i].Choice == choice {
			return j.Decisions[i], true
		}
	}
	return Decision{}, false
}

// passed reports whether the job has gone back to before the first step of a choice since it was made.
func (j *Job) passed(made Decision) bool {
	first := j.firstOf(made.Choice)
	for _, a := range j.Arrivals[made.arrivals:] {
		if a.Back && !a.late && a.Step < first {
			return true
		}
	}
	return false
}

// firstOf is the index of the first step that names a choice, or the number of steps.
func (j *Job) firstOf(choice string) int {
	for i := range j.Procedure.Steps {
		for _, p := range j.Procedure.Steps[i].OnlyIf {
			if p.Choice == choice {
				return i
			}
		}
	}
	return len(j.Procedure.Steps)
}

// unreached reports whether the current step only stands where the job began: a choice before it is not made.
func (j *Job) unreached() bool {
	n := len(j.Arrivals)
	return n > 0 && j.Arrivals[n-1].Shut
}

// reopen works out anew whether the current step is to be done, once something was decided.
func (j *Job) reopen() {
	if n := len(j.Arrivals); n > 0 && j.Arrivals[n-1].Shut {
		j.Arrivals[n-1].Shut = j.Gate(j.Step) != GateOpen
	}
}

// before is the index of the nearest step before the current one that is to be done, -1 for none.
func (j *Job) before() int {
	to := j.Step - 1
	for to >= 0 && j.Gate(to) != GateOpen {
		to--
	}
	return to
}

func (d *decision) askChoice(h Heard, c procedures.Choice) {
	d.ask(Question{Kind: AskChoice, Word: h, Choice: c.ID, Patience: lookTime}, c.Ask)
}

// decide takes the answer to a choice and goes on to the next step that is to be done. Extra work becomes a finding first.
func (d *decision) decide(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	waited := j.unreached()
	d.record(j.ID, q.Word.From, Decided, Detail{Choice: q.Choice, On: yes})
	d.changed(q.Word)
	if waited && !d.look(q.Job).unreached() {
		d.tell(q.Word.From, 0)
		return
	}
	c, _ := j.Procedure.Choice(q.Choice)
	q.Then = thenStep
	if yes && c.Approval && j.findingOf(c.ID) == nil {
		d.find(q, h, Detail{Choice: c.ID})
		return
	}
	d.goOn(q, h)
}
