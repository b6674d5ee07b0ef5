package narrator

import (
	"stepcaller/procedures"
)

// Pace and volume move by these much a word, within these limits.
const (
	volumeStep, volumeLow, volumeHigh = 15, 25, 100  // per cent of the cap
	paceStep, paceLow, paceHigh       = 20, 100, 240 // words a minute
)

// obey carries out a command that is meant.
func (d *decision) obey(h Heard) {
	c := procedures.Command(h.Word)
	d.comeBack(h, c)
	if leavesWalk(c) {
		d.leaveWalk(c == procedures.Stop)
	}
	switch c {
	case procedures.Stop:
		return
	case procedures.Help:
		if d.job() == nil {
			d.say(replyNoJob)
			return
		}
		d.ask(Question{Kind: AskStop, Word: h}, replyShallIStop)
		return
	case procedures.StopListening:
		d.record("", h.From, Listening, Detail{On: false})
		d.say(replyDeaf)
		return
	case procedures.Louder, procedures.Quieter, procedures.SpeakFaster, procedures.SpeakSlower:
		d.voice(h, c)
		return
	case procedures.WhatCanISay:
		if _, walking := d.next.Walk.turn(d.job()); walking && d.next.Question.Kind == NoQuestion {
			d.say(replyWalkWords)
		}
		d.sayAll(replyWords(d.job(), d.next.Question, d.bay.Settings))
		return
	case procedures.UndoThat:
		d.undo()
		return
	case procedures.OtherJob:
		d.otherJob(h)
		return
	}
	j := d.job()
	if j == nil || !j.Open() {
		d.say(replyNoJob)
		return
	}
	if j.Dictation != nil && d.dictate(h, c) {
		return
	}
	switch c {
	case procedures.Next, procedures.PreviousStep:
		if j.Held() != nil {
			d.ask(Question{Kind: AskCarryOn, Word: h}, replyCarryOnFirst(j))
			return
		}
		if at, ok := d.next.Walk.turn(j); ok {
			d.tighten(h, at)
			break
		}
		d.move(h, c == procedures.PreviousStep)
	case procedures.Repeat:
		if at, ok := d.next.Walk.turn(j); ok {
			d.callTurn(at, true)
			return
		}
		if j.unreached() {
			d.move(h, false)
			return
		}
		d.sayAll(replyStep(j))
		if j.Wants() == "" {
			d.say(replyWalkLeft(j))
		}
	case procedures.AskTorque:
		if !d.askCaution(h.From) {
			d.torque(h)
		}
	case procedures.AskTools:
		d.say(replyTools(j))
	case procedures.AskParts:
		d.say(replyParts(j))
	case procedures.AskCaution:
		d.say(replyCautions(j.allCautions()))
	case procedures.WhereAmI:
		d.say(replyWhere(j, h.From))
	case procedures.WhatsLeft:
		d.say(replyLeft(j.Left()))
	case procedures.HoldJob:
		if held := j.Held(); held != nil {
			d.say(replyAlreadyHeld(held.Reason))
			return
		}
		d.holdAndAsk(h)
	case procedures.CarryOn:
		d.carryOn(h)
	case procedures.IWasAway:
		d.askSince(h)
		return
	case procedures.LeaveTonight:
		d.tonight(h)
	case procedures.JoiningIn:
		d.askWhoJoins(h)
	case procedures.SteppingOut:
		d.askWhoLeaves(h)
	case procedures.TakeNote:
		d.next.Recording, d.out.Record = true, true
	case procedures.FinishJob:
		d.askFinish(h)
		return
	case procedures.HowLongLeft:
		d.say(d.replyHowLong(h.From))
	case procedures.StartTimer:
		d.startByWord(h)
	case procedures.TakeReading:
		if !d.askCaution(h.From) {
			d.takeReadings(h)
		}
	case procedures.AlsoFound:
		d.alsoFound(h)
	case procedures.ToolsBack:
		d.toolsBack(h)
	case procedures.ReasonApproval:
		d.askRuling(h)
	case procedures.Yes:
		d.say(replySayIt(j.Wants()))
	default:
		d.answerCaution(h)
	}
	if d.silent != 0 && d.next.Question.Kind == NoQuestion && !d.next.Recording {
		d.askWorked(h)
	}
}

// changed marks the word as one that can be taken back, and that talk right behind it puts in doubt.
func (d *decision) changed(h Heard) { d.next.Last, d.next.LastAct = h, d.act }

// missed lists the torques of a step that nobody has called for since the step was last begun anew.
func missed(j *Job, step int) []procedures.Tightening {
	var left []procedures.Tightening
	for _, t := range j.Procedure.Steps[step].Torque {
		if !called(j, step, t) {
			left = append(left, t)
		}
	}
	return left
}

func called(j *Job, step int, t procedures.Tightening) bool {
	var since Moment
	for _, a := range j.Arrivals {
		if a.Step == step {
			since = a.At
		}
	}
	for _, c := range j.Calls() {
		if !c.Undone && c.At >= since && c.Step == j.Procedure.Steps[step].ID && c.Fastener == t.Fastener {
			return true
		}
	}
	return false
}

func (d *decision) voice(h Heard, c procedures.Command) {
	volume, pace := d.bay.Volume, d.bay.Pace
	reply := ""
	switch c {
	case procedures.Louder:
		volume, reply = min(volume+volumeStep, volumeHigh), replyLouder
	case procedures.Quieter:
		volume, reply = max(volume-volumeStep, volumeLow), replyQuieter
	case procedures.SpeakFaster:
		pace, reply = min(pace+paceStep, paceHigh), replyFaster
	case procedures.SpeakSlower:
		pace, reply = max(pace-paceStep, paceLow), replySlower
	}
	if volume == d.bay.Volume && pace == d.bay.Pace {
		d.say(replyAtLimit)
		return
	}
	d.record("", h.From, Voiced, Detail{Volume: volume, Pace: pace})
	d.say(reply)
}

func (d *decision) finish(q Question) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	d.record(j.ID, q.Word.From, Finished, Detail{})
	done := d.look(q.Job)
	d.record("", q.Word.From, Switched, Detail{Work: ""})
	d.sayAll(replyFinished(done, len(d.bay.Others())))
}
