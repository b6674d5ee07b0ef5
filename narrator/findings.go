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
	d.askCustomer(q, about.Finding, d.words.found(d.look(q.Job), about.Finding))
}

func (d *decision) askCustomer(q Question, finding int, told string) {
	d.ask(Question{Kind: AskCustomer, Word: q.Word, Finding: finding, Then: q.Then, Slot: q.Slot}, told+" "+d.words.F("Ask the customer?"))
}

// customerAsked takes whether the customer is asked about a finding.
func (d *decision) customerAsked(q Question, h Heard, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	if !yes {
		d.reply("Finding %d is kept.", q.Finding)
		d.goOn(q, h)
		return
	}
	d.record(j.ID, h.From, Asked, Detail{Finding: q.Finding})
	if d.look(q.Job).Held() != nil {
		d.reply(replyAskedFor)
		return
	}
	q.Kind = AskApproval
	d.ask(q, d.words.F(replyHoldForApproval))
}

// waitForApproval takes whether the job stands still until the customer has answered.
func (d *decision) waitForApproval(q Question, h Heard, yes bool) {
	if !yes {
		if shut := d.job().shutBy(q.Finding); shut > 0 {
			d.say(d.words.F("Step %d stays shut until it is approved.", shut))
		}
		d.goOn(q, h)
		return
	}
	d.hold(h, string(procedures.ReasonApproval))
	d.say(d.words.held(string(procedures.ReasonApproval)))
}

// askRuling asks whether the oldest finding in question is approved.
func (d *decision) askRuling(h Heard) {
	j := d.job()
	if f := j.openFinding(); f != nil {
		d.ask(Question{Kind: AskRuling, Word: h, Finding: f.Number}, d.words.F("%s: approved?", d.words.named(j, f)))
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
		d.ask(q, d.words.F("By whom?")+" "+d.words.numbered(d.words.approvers(who)))
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
	said := d.words.ruled(f)
	to := j.opened(f)
	switch {
	case to >= 0 && to < j.Step && d.active == j.ID:
		d.ask(Question{Kind: AskGoThere, Word: q.Word, Finding: f.Number, Step: to}, d.words.F("Approved: step %d. Go there?", to+1))
		return
	case to == j.Step && d.active == j.ID && j.Held() == nil:
		d.say(said)
		d.tell(q.Word.From, 0)
		return
	case to >= 0:
		said = d.words.F("Approved: step %d.", to+1)
	}
	if held := j.Held(); held != nil {
		said += " " + d.words.alreadyHeld(held.Reason) + " " + d.words.F("Say carry on.")
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

// shutBy is the number of the first step that stays shut until a finding is approved, 0 for none.
func (j *Job) shutBy(finding int) int {
	f := j.finding(finding)
	if f == nil || f.Choice == "" || f.Ruled != 0 {
		return 0
	}
	for i := range j.Procedure.Steps {
		for _, p := range j.Procedure.Steps[i].OnlyIf {
			if p.Choice == f.Choice && !p.No {
				return i + 1
			}
		}
	}
	return 0
}

// goThere takes whether to go back to the first step that an approval has opened.
func (d *decision) goThere(q Question, yes bool) {
	j := d.look(q.Job)
	if j == nil || !j.Open() || j.ID != d.active {
		return
	}
	if !yes {
		if held := j.Held(); held != nil {
			d.say(d.words.alreadyHeld(held.Reason))
			return
		}
		d.reply(replyGoingOn)
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

// found tells the number under which a finding is kept, and what it is where that is known.
func (w wording) found(j *Job, number int) string {
	f := j.finding(number)
	if f == nil {
		return w.F("Finding %d.", number)
	}
	return w.named(j, f) + "."
}

// named is a finding's number with what it is about.
func (w wording) named(j *Job, f *Finding) string {
	about := ""
	switch {
	case f.Choice != "":
		if first := j.firstOf(f.Choice); first < len(j.Procedure.Steps) {
			about = w.inside(bare(j.Procedure.Steps[first].Heading()))
		}
	case f.Reading != "":
		about = f.Reading
		if f.Position != "" {
			about += ", " + f.Position
		}
	}
	if about == "" {
		return w.F("Finding %d", f.Number)
	}
	return w.F("Finding %d, %s", f.Number, about)
}

func (w wording) ruled(f *Finding) string {
	switch {
	case f == nil:
		return ""
	case f.Approved:
		return w.F("Finding %d approved.", f.Number)
	}
	return w.F("Finding %d declined.", f.Number)
}

// approvers are the shop's; those that it has where it chose none have their names in every language.
func (w wording) approvers(who []string) []string {
	var names []string
	for _, name := range who {
		names = append(names, w.F(name))
	}
	return names
}

// findingNoted tells the number of a finding and the length of its note.
func (w wording) findingNoted(number int, note Span, fault string) string {
	switch {
	case fault != "":
		return w.F("Finding %d.", number) + " " + w.noteFault(fault)
	case note == 0:
		return w.F("Finding %d, without a note.", number)
	}
	return w.F("Finding %d, noted, %s.", number, w.length(note))
}

// openFindings names the findings that the customer was not asked about, and those without an answer.
func (w wording) openFindings(j *Job) string {
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
		parts = append(parts, w.F("Not asked about: finding %s.", strings.Join(unasked, ", ")))
	}
	if len(unruled) > 0 {
		parts = append(parts, w.F("No answer yet: finding %s.", strings.Join(unruled, ", ")))
	}
	return strings.Join(parts, " ")
}
