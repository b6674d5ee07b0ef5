package narrator

import (
	"fmt"
	"math/big"
	"strings"

	"stepcaller/procedures"
)

// Everything that is ever said, in one place. The text is trade text: short, for an ear beside a compressor.
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

	replyActNext     = "next"
	replyActBack     = "going back a step"
	replyActHeld     = "the hold"
	replyActResumed  = "carrying on"
	replyActAway     = "the time away"
	replyActSettled  = "the answer about the quiet time"
	replyActBecause  = "the reason"
	replyActCalled   = "the torque"
	replyActRecorded = "the note"
	replyActJoined   = "joining in"
	replyActLeft     = "stepping out"
	replyActFinished = "finishing the job"
	replyActSwitched = "changing the job"
	replyActDecided  = "that answer"
	replyActAnswered = "the answer to the caution"
	replyActTimed    = "the timer"
	replyActMeasured = "the reading"
	replyActFound    = "the finding"
	replyActAsked    = "that the customer is asked"
	replyActRuled    = "the approval"
	replyActPutRight = "what was said of an open item"
	replyActCounted  = "the count of the tools"
	replyActRenewed  = "the answer about the new ones"
)

func replyOpened(j *Job) string {
	p := j.Procedure
	text := p.Title
	if p.Machine != "" {
		text += ", " + p.Machine
	}
	text += ". " + count(len(p.Steps), "step")
	if book := p.BookHours(); book > 0 {
		text += fmt.Sprintf(", book %s h", book)
	}
	text += "."
	if p.Draft {
		text += " A draft: nobody has reviewed it."
	}
	return text
}

func replyCautions(cautions []string) string {
	if len(cautions) == 0 {
		return "No caution here. Follow the maker's service data."
	}
	return "Caution. " + sentences(cautions)
}

// torqueIn writes a torque in the technician's unit: as the file has it when it is the same unit, else converted to three
// significant figures.
func torqueIn(t procedures.Torque, unit procedures.TorqueUnit) string {
	if t.Unit() == unit {
		return t.String()
	}
	f, _ := new(big.Float).SetRat(t.In(unit)).Float64()
	return fmt.Sprintf("%s %s", plain(f), unit)
}

func replyTools(j *Job) string {
	return replyList(j, "tools", j.Procedure.Steps[j.Step].Tools, j.Procedure.Tools)
}

func replyParts(j *Job) string {
	return replyList(j, "parts", texts(j.Procedure.Steps[j.Step].Parts), texts(j.Procedure.Parts))
}

func replyList(j *Job, what string, step, job []string) string {
	switch {
	case len(step) > 0:
		return fmt.Sprintf("For this step: %s.", strings.Join(step, ", "))
	case len(job) > 0:
		return fmt.Sprintf("For the whole job: %s.", strings.Join(job, ", "))
	}
	return fmt.Sprintf("No %s are listed.", what)
}

func replyWhere(j *Job, now Moment) string {
	if j.Dictation != nil {
		return replyDictated(j, now)
	}
	line := j.Timeline(now)
	var onStep Span
	for _, s := range line {
		if s.Step == j.Step && s.What == Working {
			onStep += s.Length()
		}
	}
	text := fmt.Sprintf("Step %d of %d, %s. On it %s", j.Step+1, len(j.Procedure.Steps), bare(j.Procedure.Steps[j.Step].Heading()), length(onStep))
	if m, basis := j.Procedure.ExpectedMinutes(j.Step); basis == procedures.FromFile {
		text += " of " + length(Minutes(m))
	}
	text += ". The job, " + length(Sum(line).Worked)
	if book := j.Procedure.BookHours(); book > 0 {
		text += " of " + length(SpanOf(book.Duration()))
	}
	text += "."
	if held := j.Held(); held != nil {
		text += " " + replyAlreadyHeld(held.Reason)
	}
	return text
}

// replyLeft reads what is still off, open or in, by kind.
func replyLeft(items []procedures.Item) string {
	if len(items) == 0 {
		return "Nothing is off, open or loose."
	}
	var order []string
	byState := map[string][]string{}
	for _, it := range items {
		state := it.Kind.State
		if byState[state] == nil {
			order = append(order, state)
		}
		byState[state] = append(byState[state], it.String())
	}
	var parts []string
	for _, state := range order {
		parts = append(parts, fmt.Sprintf("%s: %s", capital(state), strings.Join(byState[state], ", ")))
	}
	return "Still " + lowerFirst(strings.Join(parts, ". ")) + "."
}

func replyMeant(word string) string { return capital(word) + "?" }

func replyHeld(reason string) string { return "On hold for " + reasonText(reason) + "." }

func replyAlreadyHeld(reason string) string {
	if reason == "" {
		return "The job is on hold."
	}
	return "The job is on hold for " + reasonText(reason) + "."
}

func replyStillHeld(j *Job) string {
	if j == nil || j.Held() == nil {
		return replyNotHeld
	}
	return replyAlreadyHeld(j.Held().Reason)
}

func replyCarryOnFirst(j *Job) string {
	return replyStillHeld(j) + " Carry on?"
}

func replyNotedReason(reason string) string { return "Noted, " + reasonText(reason) + "." }

func replyCarryingOn(reason string, lasted Span) string {
	if reason == "" {
		return fmt.Sprintf("Carrying on after %s.", length(lasted))
	}
	return fmt.Sprintf("Carrying on after %s for %s.", length(lasted), reasonText(reason))
}

func reasonText(reason string) string {
	switch reason {
	case "":
		return "no reason given"
	case "lift busy":
		return "a busy lift"
	case "tool busy":
		return "a busy tool"
	case "break":
		return "a break"
	case "helping":
		return "helping out"
	case "phone", "customer", "road test":
		return "the " + reason
	case "other job":
		return "another job"
	case "end of shift":
		return "the night"
	}
	return reason
}

func replyNight(j *Job) []string {
	if j.Dictation != nil {
		return []string{"On hold for the night.", replyNumbersOff(j.Dictation.Off())}
	}
	return []string{fmt.Sprintf("On hold for the night at step %d.", j.Step+1), replyLeft(j.Left())}
}

func replyWhyAway(away Span) string {
	return fmt.Sprintf("Away for %s, not counted. What for?", length(away))
}

func replyWorked(j *Job, s Spell) string {
	step := 0
	for _, a := range j.Arrivals {
		if a.At <= s.From {
			step = a.Step
		}
	}
	minutes, _ := j.Procedure.ExpectedMinutes(step)
	return fmt.Sprintf("Step %d was quiet for %s, expected %s. Was all of it work?", step+1, length(s.To.Since(s.From)), length(Minutes(minutes)))
}

func replyWhichJob(jobs []*Job) string {
	var parts []string
	for i, j := range jobs {
		text := fmt.Sprintf("%d, %s", i+1, j.Procedure.Title)
		if j.Order != "" {
			text += ", order " + j.Order
		}
		parts = append(parts, text)
	}
	return "Which job? " + strings.Join(parts, "; ") + ". Say the number."
}

func replyWho(names []string) string {
	return "Who? " + replyNumbered(names)
}

func replyJoined(who string) string { return who + " joins in." }

func replyLeaves(who string) string { return who + " steps out." }

func replyWhichNumber(digits string) string {
	return fmt.Sprintf("I heard %s, which is no number. Say it again, digit by digit.", digits)
}

func replyNoSuchNumber(digits string, most int) string {
	return fmt.Sprintf("There is no number %s. Say one to %d.", digits, most)
}

func replyNoted(length_ Span) string { return fmt.Sprintf("Noted, %s.", length(length_)) }

func replyNoteFault(fault string) string {
	return "The note could not be kept: " + fault + "."
}

func replyFinished(j *Job, others int) []string {
	if j.Dictation != nil {
		return []string{replyDictatedEnd(j)}
	}
	t := Sum(j.Timeline(j.End))
	book := SpanOf(j.Procedure.BookHours().Duration())
	text := "Job finished. Worked " + length(t.Worked)
	if book > 0 {
		text += ", book " + length(book)
	}
	if t.Worked > 0 && book > 0 {
		text += fmt.Sprintf(", efficiency %.0f %%", 100*float64(book)/float64(t.Worked))
	}
	texts := []string{text + "."}
	if t.Unsure > 0 {
		texts = append(texts, fmt.Sprintf("Not accounted for: %s.", length(t.Unsure)))
	}
	if others > 0 {
		texts = append(texts, fmt.Sprintf("%s open. Say other job.", count(others, "other job")))
	}
	return texts
}

// replyBack says where a job is when somebody comes back to it.
func replyBack(j *Job, now Moment) []string {
	texts := []string{fmt.Sprintf("%s. %s", bare(j.Procedure.Title), replyWhere(j, now))}
	if items := j.Left(); len(items) > 0 {
		texts = append(texts, replyLeft(items))
	}
	return append(texts, replyStep(j)...)
}

func replyUndone(what string, j *Job) []string {
	texts := []string{"Taken back: " + what + "."}
	if j == nil {
		return texts
	}
	switch what {
	case replyActCalled:
		texts = append(texts, "The torque must be done again.")
	case replyActHeld, replyActResumed, replyActFinished, replyActSwitched, replyActNext, replyActBack,
		replyActDecided, replyActAnswered:
		if held := j.Held(); held != nil {
			return append(texts, replyAlreadyHeld(held.Reason))
		}
		texts = append(texts, replyStep(j)...)
		if left := replyWalkLeft(j); left != "" && j.Wants() == "" {
			texts = append(texts, left)
		}
	}
	return texts
}

// replyWords lists what may be said, most wanted first.
func replyWords(j *Job, q Question, s Settings) []string {
	if q.Kind == NoQuestion && j != nil && j.Wants() != "" {
		return []string{replySayIt(j.Wants())}
	}
	if live := q.answers(s); len(live) > 0 {
		return []string{"Say " + strings.Join(live, ", ") + "."}
	}
	if j != nil && j.Dictation != nil {
		return []string{replyDictateWords}
	}
	return []string{
		"Next, previous step, repeat, torque, tool list, part list, caution, where am I, what's left.",
		"Hold the job, carry on, I was away, leaving it for tonight, other job, joining in, stepping out.",
		"How long left, start timer, reading, also found, tools back.",
		"Take a note, undo that, finish job, stop, stop listening, louder, quieter, speak slower, speak faster.",
	}
}
