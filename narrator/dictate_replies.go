package narrator

import "stepcaller/procedures"

const (
	replyWhatFigure   = "What is the figure? Digit by digit."
	replyDictateWords = "New step, comes off, goes on, torque, reading, what's left, take a note, undo that, hold the job, carry on, where am I, finish job."
	replySayNewStep   = "Say new step, and what it is."
)

// saidNoteText tells the number of a step, or of what came off, once what was said about it is kept or was not.
func saidNoteText(part Part, kept bool) string {
	switch {
	case part == PartOff && kept:
		return "Off, number %d."
	case part == PartOff:
		return "Off, number %d, without a note."
	case kept:
		return "Step %d."
	}
	return "Step %d, without a note."
}

func (w wording) howMuch(unit procedures.TorqueUnit) string {
	return w.F("How much, in %s? Digit by digit.", unit)
}

func (w wording) dictateOpened(j *Job) []string {
	name := bare(j.Procedure.Title)
	if m := bare(j.Procedure.Machine); m != "" {
		name += ", " + m
	}
	return []string{w.F("%s, without a procedure. Say new step, and what it is.", name)}
}

// dictated says where a job without a procedure is.
func (w wording) dictated(j *Job, now Moment) string {
	text := w.F("Before the first step, %s.", w.length(j.dictatedIn(now)))
	if n := j.Dictation.Step(); n > 0 {
		text = w.F("Step %d, on it %s.", n, w.length(j.dictatedIn(now)))
	}
	text += " " + w.F("The job, %s.", w.length(Sum(j.Timeline(now)).Worked)) + " " + w.numbersOff(j.Dictation.Off())
	if held := j.Held(); held != nil {
		text += " " + w.alreadyHeld(held.Reason)
	}
	return text
}

// dictatedStep names the step that is being done.
func (w wording) dictatedStep(j *Job) string {
	if n := j.Dictation.Step(); n > 0 {
		return w.F("Step %d.", n)
	}
	return w.F(replySayNewStep)
}

func (w wording) dictatedFinish(j *Job, now Moment) string {
	text := w.F(replyFinishIt)
	if off := j.Dictation.Off(); len(off) > 0 {
		text = w.N(len(off), "Still off: number %[2]s.", "Still off: numbers %[2]s.", w.numbers(off)) + " " + text
	}
	if unsure := Sum(j.Timeline(now)).Unsure; unsure > 0 {
		text = w.unaccounted(unsure) + " " + text
	}
	return text
}

func (w wording) dictatedEnd(j *Job) string {
	steps := 0
	for _, said := range j.Dictation.Said {
		if said.Part == PartStep {
			steps++
		}
	}
	return w.N(steps, "Job finished. %d step, worked %s. Type it up from its draft.", "Job finished. %d steps, worked %s. Type it up from its draft.",
		w.length(Sum(j.Timeline(j.End)).Worked))
}
