package narrator

// deed is what an act did, as it is named when it is taken back: an English text of the language file, and what fills it.
type deed struct {
	text string
	args []any
}

const (
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
	replyActTurned   = "stage %d, number %d"
	replyActRenewed  = "the answer about the new ones"
)

// describe names what an act did. That it carried on first is the least of it.
func describe(log []Event, act int64) deed {
	what := deed{text: replyActSwitched}
	for _, e := range log {
		if e.Act != act {
			continue
		}
		switch e.Kind {
		case Arrived:
			if e.Back {
				return deed{text: replyActBack}
			}
			return deed{text: replyActNext}
		case Held:
			return deed{text: replyActHeld}
		case Resumed:
			what = deed{text: replyActResumed}
		case Away:
			return deed{text: replyActAway}
		case Settled:
			return deed{text: replyActSettled}
		case Because:
			return deed{text: replyActBecause}
		case Called:
			return deed{text: replyActCalled}
		case Recorded:
			if e.Part != "" {
				return saidDeedText(Part(e.Part), e.Detail)
			}
			return deed{text: replyActRecorded}
		case Dictated:
			return saidDeedText(Part(e.Part), e.Detail)
		case Joined:
			return deed{text: replyActJoined}
		case Left:
			return deed{text: replyActLeft}
		case Finished:
			return deed{text: replyActFinished}
		case Decided:
			return deed{text: replyActDecided}
		case Answered:
			return deed{text: replyActAnswered}
		case Timed:
			return deed{text: replyActTimed}
		case Measured:
			return deed{text: replyActMeasured}
		case Found:
			return deed{text: replyActFound}
		case Asked:
			return deed{text: replyActAsked}
		case Ruled:
			return deed{text: replyActRuled}
		case PutRight:
			return deed{text: replyActPutRight}
		case Counted:
			return deed{text: replyActCounted}
		case Tightened:
			return deed{replyActTurned, []any{e.Stage, e.Number}}
		case Renewed:
			return deed{text: replyActRenewed}
		}
	}
	return what
}

// saidDeedText names what was said in a job without a procedure.
func saidDeedText(part Part, d Detail) deed {
	switch part {
	case PartStep:
		return deed{"step %d", []any{d.Number}}
	case PartOff:
		return deed{"number %d coming off", []any{d.Number}}
	case PartOn:
		return deed{"number %d going on", []any{d.Number}}
	case PartTorque:
		return deed{"the torque, %s", []any{d.Value}}
	}
	return deed{"the reading, %s", []any{d.Value}}
}

// undone tells what was taken back, and where the job stands where that is another place now.
func (w wording) undone(what deed, j *Job) []string {
	texts := []string{w.F("Taken back: %s.", w.F(what.text, what.args...))}
	if j == nil {
		return texts
	}
	switch what.text {
	case replyActCalled:
		texts = append(texts, w.F("The torque must be done again."))
	case replyActHeld, replyActResumed, replyActFinished, replyActSwitched, replyActNext, replyActBack,
		replyActDecided, replyActAnswered:
		if held := j.Held(); held != nil {
			return append(texts, w.alreadyHeld(held.Reason))
		}
		texts = append(texts, w.step(j)...)
		if left := w.walkLeft(j); left != "" && j.Wants() == "" {
			texts = append(texts, left)
		}
	}
	return texts
}
