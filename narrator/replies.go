package narrator

import (
	"fmt"
	"math/big"
	"strings"

	"stepcaller/procedures"
)

// What is said without anything to fill in. The text is trade text: short, for an ear beside a compressor.
const (
	replyListening     = "Listening."
	replyDeaf          = "Not listening. To go on, say start listening."
	replyNoJob         = "No job is open. Start one at the terminal."
	replyFirstStep     = "This is the first step."
	replyLastStep      = "That was the last step. When all is done, say finish job."
	replyNoTorque      = "No torque on this step."
	replyLouder        = "Louder."
	replyQuieter       = "Quieter."
	replyFaster        = "Faster."
	replySlower        = "Slower."
	replyAtLimit       = "That is as far as it goes."
	replyShallIStop    = "Shall I stop?"
	replyGoingOn       = "Going on."
	replyLeftAlone     = "Left as it was."
	replyYesOrNo       = "Please say yes or no."
	replyNotFinished   = "Not finished. The job goes on."
	replyFinishIt      = "Finish the job?"
	replyWhyHeld       = "On hold. What for?"
	replyWhyNotWorked  = "Not counted as work. What was it for?"
	replyNotHeld       = "The job is not on hold."
	replySince         = "Away since when? Say last word, or the minutes, digit by digit."
	replyCounted       = "Counted as work."
	replyNoOtherJob    = "No other job is open."
	replyNobodyJoins   = "Nobody else is listed as a technician."
	replyAlone         = "You are alone on this job. Put it on hold?"
	replyNothingToUndo = "There is nothing to take back."
	replyNoNote        = "Nothing was said. No note kept."
	replyHardToHear    = "I can't hear you well. Move closer."
	replyClipped       = "The microphone is too loud: it clips."
	replyNoSound       = "The microphone gives no sound."
)

func (w wording) opened(j *Job) string {
	p := j.Procedure
	text := p.Title
	if p.Machine != "" {
		text += ", " + p.Machine
	}
	steps := w.N(len(p.Steps), "%d step.", "%d steps.")
	if book := p.BookHours(); book > 0 {
		steps = w.N(len(p.Steps), "%d step, book %s h.", "%d steps, book %s h.", w.Figures(book.String()))
	}
	text += ". " + steps
	if p.Draft {
		text += " " + w.F("A draft: nobody has reviewed it.")
	}
	return text
}

func (w wording) cautions(cautions []procedures.Caution) string {
	if len(cautions) == 0 {
		return w.F("No caution here. Follow the maker's service data.")
	}
	var said []string
	for _, c := range cautions {
		said = append(said, w.warning(c))
	}
	return w.F("Caution. %s", sentences(said))
}

// torqueIn writes a torque in the technician's unit: as the file has it when it is the same unit, else converted to three
// significant figures.
func (w wording) torqueIn(t procedures.Torque) string {
	unit := w.shop.Unit
	if t.Unit() == unit {
		return w.Figures(t.String())
	}
	f, _ := new(big.Float).SetRat(t.In(unit)).Float64()
	return w.Figures(fmt.Sprintf("%s %s", plain(f), unit))
}

func (w wording) tools(j *Job) string {
	return w.list(j.Procedure.Steps[j.Step].Tools, j.Procedure.Tools, w.F("No tools are listed."))
}

func (w wording) parts(j *Job) string {
	return w.list(texts(j.Procedure.Steps[j.Step].Parts), texts(j.Procedure.Parts), w.F("No parts are listed."))
}

func (w wording) list(step, job []string, none string) string {
	switch {
	case len(step) > 0:
		return w.F("For this step: %s.", strings.Join(step, ", "))
	case len(job) > 0:
		return w.F("For the whole job: %s.", strings.Join(job, ", "))
	}
	return none
}

func (w wording) where(j *Job, now Moment) string {
	if j.Dictation != nil {
		return w.dictated(j, now)
	}
	line := j.Timeline(now)
	var onStep Span
	for _, s := range line {
		if s.Step == j.Step && s.What == Working {
			onStep += s.Length()
		}
	}
	text := w.F("Step %d of %d, %s.", j.Step+1, len(j.Procedure.Steps), bare(j.Procedure.Steps[j.Step].Heading())) + " "
	if m, basis := j.Procedure.ExpectedMinutes(j.Step); basis == procedures.FromFile {
		text += w.F("On it %s of %s.", w.length(onStep), w.length(Minutes(m)))
	} else {
		text += w.F("On it %s.", w.length(onStep))
	}
	worked := w.length(Sum(line).Worked)
	if book := j.Procedure.BookHours(); book > 0 {
		text += " " + w.F("The job, %s of %s.", worked, w.length(SpanOf(book.Duration())))
	} else {
		text += " " + w.F("The job, %s.", worked)
	}
	if held := j.Held(); held != nil {
		text += " " + w.alreadyHeld(held.Reason)
	}
	return text
}

func (w wording) meant(word string) string { return w.F("%s?", capital(word)) }

func (w wording) held(reason string) string { return w.F("On hold for %s.", w.reason(reason)) }

func (w wording) alreadyHeld(reason string) string {
	if reason == "" {
		return w.F("The job is on hold.")
	}
	return w.F("The job is on hold for %s.", w.reason(reason))
}

func (w wording) stillHeld(j *Job) string {
	if j == nil || j.Held() == nil {
		return w.F(replyNotHeld)
	}
	return w.alreadyHeld(j.Held().Reason)
}

func (w wording) carryOnFirst(j *Job) string { return w.stillHeld(j) + " " + w.F("Carry on?") }

func (w wording) notedReason(reason string) string { return w.F("Noted, %s.", w.reason(reason)) }

func (w wording) carryingOn(reason string, lasted Span) string {
	if reason == "" {
		return w.F("Carrying on after %s.", w.length(lasted))
	}
	return w.F("Carrying on after %s for %s.", w.length(lasted), w.reason(reason))
}

// reason is a pause's reason as it stands behind "for".
func (w wording) reason(reason string) string { return w.F(reasonText(reason)) }

func reasonText(reason string) string {
	switch reason {
	case "":
		return "no reason given"
	case "parts":
		return "parts"
	case "approval":
		return "approval"
	case "help":
		return "help"
	case "lift busy":
		return "a busy lift"
	case "tool busy":
		return "a busy tool"
	case "break":
		return "a break"
	case "helping":
		return "helping out"
	case "phone":
		return "the phone"
	case "customer":
		return "the customer"
	case "road test":
		return "the road test"
	case "other job":
		return "another job"
	case "end of shift":
		return "the night"
	case reasonHandover:
		return "a handover"
	}
	return reason
}

func (w wording) night(j *Job) []string {
	if j.Dictation != nil {
		return []string{w.F("On hold for the night."), w.numbersOff(j.Dictation.Off())}
	}
	return []string{w.F("On hold for the night at step %d.", j.Step+1), w.left(j.Left())}
}

func (w wording) whyAway(away Span) string {
	return w.F("Away for %s, not counted. What for?", w.length(away))
}

func (w wording) worked(j *Job, s Spell) string {
	step := 0
	for _, a := range j.Arrivals {
		if a.At <= s.From {
			step = a.Step
		}
	}
	minutes, _ := j.Procedure.ExpectedMinutes(step)
	return w.F("Step %d was quiet for %s, expected %s. Was all of it work?", step+1, w.length(s.To.Since(s.From)), w.length(Minutes(minutes)))
}

func (w wording) whichJob(jobs []*Job, offers []Offer) string {
	var names []string
	for _, j := range jobs {
		name := j.Procedure.Title
		if j.Order != "" {
			name += ", " + w.F("order %s", j.Order)
		}
		names = append(names, name)
	}
	for _, o := range offers {
		if o.Step == 0 {
			names = append(names, w.F("%s, from bay %s", o.name(), o.Bay))
			continue
		}
		names = append(names, w.F("%s, from bay %s, step %d", o.name(), o.Bay, o.Step))
	}
	return w.F("Which job?") + " " + w.numbered(names)
}

func (w wording) who(names []string) string { return w.F("Who?") + " " + w.numbered(names) }

// numbered reads what may be chosen by its number.
func (w wording) numbered(names []string) string {
	var parts []string
	for i, n := range names {
		parts = append(parts, fmt.Sprintf("%d, %s", i+1, n))
	}
	return strings.Join(parts, "; ") + ". " + w.F("Say the number.")
}

func (w wording) joined(who string) string { return w.F("%s joins in.", who) }

func (w wording) leaves(who string) string { return w.F("%s steps out.", who) }

func (w wording) whichNumber(digits string) string {
	return w.F("I heard %s, which is no number. Say it again, digit by digit.", digits)
}

func (w wording) noSuchNumber(digits string, most int) string {
	return w.F("There is no number %s. Say one to %d.", digits, most)
}

func (w wording) noted(note Span) string { return w.F("Noted, %s.", w.length(note)) }

func (w wording) noteFault(fault string) string { return w.F("The note could not be kept: %s.", fault) }

func (w wording) finished(j *Job, others int) []string {
	if j.Dictation != nil {
		return []string{w.dictatedEnd(j)}
	}
	t := Sum(j.Timeline(j.End))
	book := SpanOf(j.Procedure.BookHours().Duration())
	var texts []string
	switch worked := w.length(t.Worked); {
	case book > 0 && t.Worked > 0:
		texts = append(texts, w.F("Job finished. Worked %s, book %s, efficiency %.0f %%.", worked, w.length(book), 100*float64(book)/float64(t.Worked)))
	case book > 0:
		texts = append(texts, w.F("Job finished. Worked %s, book %s.", worked, w.length(book)))
	default:
		texts = append(texts, w.F("Job finished. Worked %s.", worked))
	}
	if t.Unsure > 0 {
		texts = append(texts, w.unaccounted(t.Unsure))
	}
	if others > 0 {
		texts = append(texts, w.othersOpen(others))
	}
	return texts
}

func (w wording) othersOpen(n int) string {
	return w.N(n, "%d other job open. Say other job.", "%d other jobs open. Say other job.")
}

func (w wording) unaccounted(unsure Span) string {
	return w.F("Not accounted for: %s.", w.length(unsure))
}

// back says where a job is when somebody comes back to it.
func (w wording) back(j *Job, now Moment) []string {
	texts := []string{fmt.Sprintf("%s. %s", bare(j.Procedure.Title), w.where(j, now))}
	if items := j.Left(); len(items) > 0 {
		texts = append(texts, w.left(items))
	}
	return append(texts, w.step(j)...)
}

// commands lists what may be said, most wanted first.
func (w wording) commands(j *Job, q Question) []string {
	if q.Kind == NoQuestion && j != nil && j.Wants() != "" {
		return []string{w.sayIt(j.Wants())}
	}
	if live := q.answers(w.shop); len(live) > 0 {
		return []string{w.F("Say %s.", strings.Join(live, ", "))}
	}
	if j != nil && j.Dictation != nil {
		return []string{w.F(replyDictateWords)}
	}
	return []string{
		w.F("Next, previous step, repeat, torque, tool list, part list, caution, where am I, what's left."),
		w.F("Hold the job, carry on, I was away, leaving it for tonight, other job, joining in, stepping out."),
		w.F("How long left, start timer, reading, also found, tools back."),
		w.F("Take a note, undo that, finish job, stop, stop listening, louder, quieter, speak slower, speak faster."),
	}
}
