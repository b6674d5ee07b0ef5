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
			d.reply(replyNoJob)
			return
		}
		d.ask(Question{Kind: AskStop, Word: h}, d.words.F(replyShallIStop))
		return
	case procedures.StopListening:
		d.record("", h.From, Listening, Detail{On: false})
		d.reply(replyDeaf)
		return
	case procedures.Louder, procedures.Quieter, procedures.SpeakFaster, procedures.SpeakSlower:
		d.voice(h, c)
		return
	case procedures.WhatCanISay:
		if _, walking := d.next.Walk.turn(d.job()); walking && d.next.Question.Kind == NoQuestion {
			d.reply(replyWalkWords)
			return
		}
		d.sayAll(d.words.commands(d.job(), d.next.Question))
		if d.next.Sending.Joined && d.next.Question.Kind == NoQuestion {
			d.reply(replyInShop)
		}
		return
	case procedures.UndoThat:
		d.undo()
		return
	case procedures.OtherJob:
		d.otherJob(h)
		return
	case procedures.AllSent:
		d.say(d.words.sent(d.next.Sending))
		return
	}
	j := d.job()
	if j == nil || !j.Open() {
		d.reply(replyNoJob)
		return
	}
	if j.Dictation != nil && d.dictate(h, c) {
		return
	}
	switch c {
	case procedures.Next, procedures.PreviousStep:
		if j.Held() != nil {
			d.ask(Question{Kind: AskCarryOn, Word: h}, d.words.carryOnFirst(j))
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
		d.sayAll(d.words.step(j))
		if j.Wants() == "" {
			d.say(d.words.walkLeft(j))
		}
	case procedures.AskTorque:
		if !d.askCaution(h.From) {
			d.torque(h)
		}
	case procedures.AskTools:
		d.say(d.words.tools(j))
	case procedures.AskParts:
		d.say(d.words.parts(j))
	case procedures.AskCaution:
		d.say(d.words.cautions(j.allCautions()))
	case procedures.WhereAmI:
		d.say(d.words.where(j, h.From))
	case procedures.WhatsLeft:
		d.say(d.words.left(j.Left()))
	case procedures.HoldJob:
		if held := j.Held(); held != nil {
			d.say(d.words.alreadyHeld(held.Reason))
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
	case procedures.HandOver:
		d.askHandOver(h)
		return
	case procedures.HowLongLeft:
		d.say(d.howLong(h.From))
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
		d.say(d.words.sayIt(j.Wants()))
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
		if !c.Undone && c.At >= since && c.Step == j.Procedure.Steps[step].ID && c.Fastener == t.Fastener && c.Value == t.Value.String() {
			return true
		}
	}
	return false
}

func (d *decision) voice(h Heard, c procedures.Command) {
	volume, pace := d.bay.Volume, d.bay.Pace
	done := ""
	switch c {
	case procedures.Louder:
		volume, done = min(volume+volumeStep, volumeHigh), replyLouder
	case procedures.Quieter:
		volume, done = max(volume-volumeStep, volumeLow), replyQuieter
	case procedures.SpeakFaster:
		pace, done = min(pace+paceStep, paceHigh), replyFaster
	case procedures.SpeakSlower:
		pace, done = max(pace-paceStep, paceLow), replySlower
	}
	if volume == d.bay.Volume && pace == d.bay.Pace {
		d.reply(replyAtLimit)
		return
	}
	d.record("", h.From, Voiced, Detail{Volume: volume, Pace: pace})
	d.reply(done)
}

func (d *decision) finish(q Question) {
	j := d.look(q.Job)
	if j == nil || !j.Open() {
		return
	}
	d.record(j.ID, q.Word.From, Finished, Detail{})
	done := d.look(q.Job)
	d.record("", q.Word.From, Switched, Detail{Work: ""})
	d.sayAll(d.words.finished(done, len(d.bay.Others())))
}
