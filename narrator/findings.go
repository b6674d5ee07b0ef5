package narrator

import (
	"fmt"
	"strings"

	"stepcaller/procedures"
)

// Finding is something else that is worn, or extra work that a choice of the procedure turned up.
type Finding struct {
	Number   int    // in the job, from 1; never given out twice
	Step     string // id of the step at which it was found
	Choice   string // of the procedure, whose steps it opens; "" for none
	Reading  string // that was out of its limits, with its Position; "" for none
	Position string
	At       Moment
	Asked    Moment // when the customer was asked; zero when nobody was
	Ruled    Moment // when it was approved or declined; zero when it was not
	Approved bool
	By       string // who approved or declined; "" when nobody said
}

func (j *Job) findingOf(choice string) *Finding {
	for i := range j.Findings {
		if f := &j.Findings[i]; f.Choice == choice {
			return f
		}
	}
	return nil
}

func (j *Job) finding(number int) *Finding {
	for i := range j.Findings {
		if f := &j.Findings[i]; f.Number == number {
			return f
		}
	}
	return nil
}

// nextFinding is the number of the next finding. A number that was taken back is not given out again.
func (j *Job) nextFinding() int {
	n := 1
	for _, e := range j.log {
		if e.Kind == Found {
			n = max(n, e.Finding+1)
		}
	}
	return n
}

// openFinding is the oldest finding that the customer was asked about and nobody has ruled on, nil for none.
func (j *Job) openFinding() *Finding {
	for i := range j.Findings {
		if f := &j.Findings[i]; f.Asked != 0 && f.Ruled == 0 {
			return f
		}
	}
	return nil
}

func (j *Job) applyFinding(e Event) {
	if e.Kind == Found {
		j.Findings = append(j.Findings, Finding{Number: e.Finding, Step: e.Step, Choice: e.Choice, Reading: e.Reading, Position: e.Position, At: e.At})
	} else if f := j.finding(e.Finding); f != nil && e.Kind == Asked {
		f.Asked = e.At
	} else if f != nil {
		f.Ruled, f.Approved, f.By = e.At, e.On, e.By
	}
	j.reopen()
}

// foundAt is the number of the finding whose note began at a moment, 0 for none.
func (j *Job) foundAt(note Moment) int {
	for i := len(j.Findings) - 1; i >= 0; i-- {
		if f := j.Findings[i]; f.Choice == "" && f.Reading == "" && f.At <= note && note.Since(f.At) < noteBegins {
			return f.Number
		}
	}
	return 0
}

// noteBegins is the longest time from the start of "also found" to the first sample of what follows.
const noteBegins = 5 * Second

// alsoFound gives a finding its number and takes down what is said about it.
func (d *decision) alsoFound(h Heard) {
	j := d.job()
	n := j.nextFinding()
	d.record(j.ID, h.From, Found, Detail{Finding: n, Step: j.Procedure.Steps[j.Step].ID})
	d.next.Recording, d.next.Finding, d.out.Record = true, n, true
}

// find notes a finding that needs no words of its own, and asks whether the customer should be asked.
func (d *decision) find(q Question, h Heard, about Detail) {
	j := d.look(q.Job)
	about.Finding, about.Step = j.nextFinding(), j.Procedure.Steps[j.Step].ID
	d.record(j.ID, h.From, Found, about)
	d.askCustomer(q, about.Finding, replyFound(d.look(q.Job), about.Finding))
}

func (d *decision) askCustomer(q Question, finding int, told string) {
	d.ask(Question{Kind: AskCustomer, Word: q.Word, Finding: finding, Then: q.Then, Slot: q.Slot}, told+" Ask the customer?")
}

// customerAsked takes whether the customer is asked about a finding.
func (d *decision) customerAsked(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	if !yes {
		d.say(fmt.Sprintf("Finding %d is kept.", q.Finding))
		d.goOn(q, h)
		return
	}
	d.record(j.ID, h.From, Asked, Detail{Finding: q.Finding})
	if d.look(q.Job).Held() != nil {
		d.say(replyAskedFor)
		return
	}
	q.Kind = AskApproval
	d.ask(q, replyHoldForApproval)
}

// waitForApproval takes whether the job stands still until the customer has answered.
func (d *decision) waitForApproval(q Question, h Heard, yes bool) {
	if !yes {
		d.goOn(q, h)
		return
	}
	d.hold(h, string(procedures.ReasonApproval))
	d.say(replyHeld(string(procedures.ReasonApproval)))
}

// askRuling asks whether the oldest finding in question is approved.
func (d *decision) askRuling(h Heard) {
	j := d.job()
	if f := j.openFinding(); f != nil {
		d.ask(Question{Kind: AskRuling, Word: h, Finding: f.Number}, replyNamed(j, f)+": approved?")
	}
}

// askWho asks by whom a finding is approved or declined, where that is not plain.
func (d *decision) askWho(q Question, yes bool) {
	who := d.bay.Settings.Approvers
	q = Question{Kind: AskByWhom, Word: q.Word, Finding: q.Finding, Yes: yes, Choices: who, Job: q.Job}
	switch len(who) {
	case 0:
		d.rule(q, "")
	case 1:
		d.rule(q, who[0])
	default:
		d.ask(q, "By whom? "+replyNumbered(who))
	}
}

// rule approves or declines a finding. The steps that an approval opens are offered.
func (d *decision) rule(q Question, by string) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.finding(q.Finding) == nil {
		return
	}
	d.record(j.ID, q.Word.From, Ruled, Detail{Finding: q.Finding, On: q.Yes, By: by})
	d.changed(q.Word)
	j = d.look(q.Job)
	f := j.finding(q.Finding)
	said := replyRuled(f)
	to := j.opened(f)
	switch {
	case to >= 0 && to < j.Step && d.active == j.ID:
		d.ask(Question{Kind: AskGoThere, Word: q.Word, Finding: f.Number, Step: to}, fmt.Sprintf("Approved: step %d. Go there?", to+1))
		return
	case to == j.Step && d.active == j.ID && j.Held() == nil:
		d.say(said)
		d.tell(q.Word.From, 0)
		return
	case to >= 0:
		said = fmt.Sprintf("Approved: step %d.", to+1)
	}
	if held := j.Held(); held != nil {
		said += " " + replyAlreadyHeld(held.Reason) + " Say carry on."
	}
	d.say(said)
}

// opened is the first step that the approval of a finding opens and that is not done, -1 for none.
func (j *Job) opened(f *Finding) int {
	if f.Choice == "" || !f.Approved {
		return -1
	}
	done := j.done()
	for i := range j.Procedure.Steps {
		for _, p := range j.Procedure.Steps[i].OnlyIf {
			if p.Choice == f.Choice && !p.No && !done[i] && j.Gate(i) == GateOpen {
				return i
			}
		}
	}
	return -1
}

// goThere takes whether to go back to the first step that an approval has opened.
func (d *decision) goThere(q Question, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active {
		return
	}
	if !yes {
		if held := j.Held(); held != nil {
			d.say(replyAlreadyHeld(held.Reason))
			return
		}
		d.say(replyGoingOn)
		return
	}
	if j.Held() != nil {
		d.record(j.ID, q.Word.From, Resumed, Detail{})
	}
	d.arrive(q.Word, Detail{Step: j.Procedure.Steps[q.Step].ID, Back: true, Finding: q.Finding})
}

const (
	replyAskedFor        = "Noted as asked. When the answer comes, say approval."
	replyHoldForApproval = "Hold the job for approval?"
)

// replyFound tells the number under which a finding is kept, and what it is where that is known.
func replyFound(j *Job, number int) string {
	f := j.finding(number)
	if f == nil {
		return fmt.Sprintf("Finding %d.", number)
	}
	return replyNamed(j, f) + "."
}

func replyNamed(j *Job, f *Finding) string {
	name := fmt.Sprintf("Finding %d", f.Number)
	switch {
	case f.Choice != "":
		if first := j.firstOf(f.Choice); first < len(j.Procedure.Steps) {
			name += ", " + lowerFirst(bare(j.Procedure.Steps[first].Heading()))
		}
	case f.Reading != "":
		name += ", " + f.Reading
		if f.Position != "" {
			name += ", " + f.Position
		}
	}
	return name
}

func replyRuled(f *Finding) string {
	switch {
	case f == nil:
		return ""
	case f.Approved:
		return fmt.Sprintf("Finding %d approved.", f.Number)
	}
	return fmt.Sprintf("Finding %d declined.", f.Number)
}

func replyNumbered(names []string) string {
	var parts []string
	for i, n := range names {
		parts = append(parts, fmt.Sprintf("%d, %s", i+1, n))
	}
	return strings.Join(parts, "; ") + ". Say the number."
}

// replyFindingNoted tells the number of a finding and the length of its note.
func replyFindingNoted(number int, note Span, fault string) string {
	switch {
	case fault != "":
		return fmt.Sprintf("Finding %d. %s", number, replyNoteFault(fault))
	case note == 0:
		return fmt.Sprintf("Finding %d, without a note.", number)
	}
	return fmt.Sprintf("Finding %d, noted, %s.", number, length(note))
}

// replyOpenFindings names the findings that the customer was not asked about, and those without an answer.
func replyOpenFindings(j *Job) string {
	var unasked, unruled []string
	for _, f := range j.Findings {
		switch {
		case f.Ruled != 0:
		case f.Asked != 0:
			unruled = append(unruled, fmt.Sprint(f.Number))
		default:
			unasked = append(unasked, fmt.Sprint(f.Number))
		}
	}
	var parts []string
	if len(unasked) > 0 {
		parts = append(parts, "Not asked about: finding "+strings.Join(unasked, ", ")+".")
	}
	if len(unruled) > 0 {
		parts = append(parts, "No answer yet: finding "+strings.Join(unruled, ", ")+".")
	}
	return strings.Join(parts, " ")
}
